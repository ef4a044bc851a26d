//! Which profile an unknown sensor speaks: sixty streams over a line that is simulated bit by bit, so that a wrong baud gives the
//! bytes that a receiver would make of it; and what fits nothing.

use clinoblade::rig::noise::Random;
use clinoblade::stream::codec::Frame;
use clinoblade::stream::identify::{Heard, Identity, Line, USUAL_BAUDS, Verdict, identify, identify_recording};
use clinoblade::stream::ports::Parity;
use clinoblade::stream::{Overrides, Profile, StreamError};
use std::future::{Future, ready};
use std::time::Duration;

/// Levels of the line: how long it is high or low, in seconds, beginning high.
struct Levels {
    edges: Vec<f64>,
    end: f64,
}

impl Levels {
    fn at(&self, time: f64) -> bool {
        self.edges.partition_point(|edge| *edge <= time).is_multiple_of(2)
    }

    /// What a sender puts on the line: start bit, eight data bits with the least significant first, parity, stop bit.
    fn sent(bursts: &[(f64, Vec<u8>)], baud: u32, parity: Parity) -> Self {
        let bit = 1.0 / f64::from(baud);
        let (mut edges, mut high, mut time) = (Vec::new(), true, 0.0f64);
        for (at, bytes) in bursts {
            time = time.max(*at);
            for byte in bytes {
                let mut bits = vec![false];
                bits.extend((0..8).map(|n| byte >> n & 1 == 1));
                match parity {
                    Parity::None => {}
                    Parity::Even => bits.push(byte.count_ones() % 2 == 1),
                    Parity::Odd => bits.push(byte.count_ones() % 2 == 0),
                }
                bits.push(true);
                for level in bits {
                    if level != high {
                        edges.push(time);
                        high = level;
                    }
                    time += bit;
                }
            }
        }
        Self { edges, end: time }
    }

    /// What a receiver makes of it: a byte whose stop or parity bit is wrong becomes 0, as a terminal driver gives it.
    fn received(&self, baud: u32, parity: Parity) -> Vec<u8> {
        let bit = 1.0 / f64::from(baud);
        let data_and_parity = if parity == Parity::None { 8 } else { 9 };
        let (mut bytes, mut time) = (Vec::new(), 0.0);
        while time < self.end {
            // The next edge downward is a start bit.
            let next = self.edges.partition_point(|edge| *edge < time);
            let next = next + next % 2;
            let Some(start) = self.edges.get(next) else { break };
            let level = |n: usize| self.at(start + (n as f64 + 0.5) * bit);
            if level(0) {
                time = start + 0.6 * bit;
                continue;
            }
            let byte = (0..8).fold(0u8, |byte, n| byte | u8::from(level(n + 1)) << n);
            let ones = byte.count_ones() % 2 == 1;
            let sound = level(data_and_parity + 1)
                && match parity {
                    Parity::None => true,
                    Parity::Even => level(9) == ones,
                    Parity::Odd => level(9) != ones,
                };
            bytes.push(if sound { byte } else { 0 });
            time = start + (data_and_parity as f64 + 1.5) * bit;
        }
        bytes
    }
}

/// A sensor, and what its line does to it.
#[derive(Clone)]
struct Sensor {
    profiles: Vec<Profile>,
    baud: u32,
    parity: Parity,
    /// Share of bytes that come over damaged.
    damage: f64,
    /// Bytes that mean nothing before the first frame.
    garbage: usize,
    seed: u64,
}

impl Sensor {
    fn frame(&self, profile: &Profile, seq: u16, time: f64, random: &mut Random) -> Vec<u8> {
        let tilt = f64::from(self.seed as u8).to_radians() / 4.0;
        let up = [tilt.sin(), 0.05, tilt.cos()].map(|g| (g + 0.005 * random.normal()) * profile.counts_per_g());
        let micros = 70_000_000 + (time * 1e6) as u32;
        let mut bytes = Vec::new();
        profile.encoder().encode(&Frame { seq, micros, counts: up, celsius: Some(21.5) }, &mut bytes);
        bytes
    }

    /// As the profile has it, unless the line is too slow for that.
    fn period(&self, profile: &Profile, random: &mut Random) -> f64 {
        let longest = self.frame(profile, 0, 0.0, random).len() as f64 * 14.0 / f64::from(self.baud);
        longest.max(1.0 / profile.rate().unwrap().value())
    }

    fn spoil(&self, bytes: &mut [u8], random: &mut Random) {
        for byte in bytes {
            if random.uniform() < self.damage {
                *byte ^= 1 << (random.bits() % 8);
            }
        }
    }

    /// Garbage, then frames at an even pace, as many as the line can carry at most.
    fn bursts(&self, seconds: f64, salt: u64) -> Vec<(f64, Vec<u8>)> {
        let mut random = Random::new(self.seed ^ salt << 32);
        let garbage: Vec<u8> = (0..self.garbage).map(|_| random.bits() as u8).collect();
        let mut time = garbage.len() as f64 * 10.0 / f64::from(self.baud);
        let mut bursts = vec![(0.0, garbage)];
        let mut seq = random.bits() as u16;
        while time < seconds {
            for profile in &self.profiles {
                let period = self.period(profile, &mut random);
                let mut bytes = self.frame(profile, seq, time, &mut random);
                self.spoil(&mut bytes, &mut random);
                bursts.push((time, bytes));
                time += period;
                seq = seq.wrapping_add(1);
            }
        }
        bursts
    }
}

impl Line for Sensor {
    fn listen(
        &mut self,
        baud: u32,
        parity: Parity,
        within: Duration,
    ) -> impl Future<Output = Result<Heard, StreamError>> + Send {
        let seconds = within.as_secs_f64();
        let silent = self.profiles.iter().any(|profile| profile.request().is_some());
        let bytes = if silent {
            Vec::new()
        } else {
            Levels::sent(&self.bursts(seconds, u64::from(baud)), self.baud, Parity::None).received(baud, parity)
        };
        ready(Ok(Heard { bytes, seconds: Some(seconds) }))
    }

    fn ask(&mut self, asking: &Profile, within: Duration) -> impl Future<Output = Result<Heard, StreamError>> + Send {
        let seconds = within.as_secs_f64();
        // What the slave hears of the request: only its own, at its own baud and parity, does it answer.
        let request = Levels::sent(&[(0.0, asking.request().unwrap())], asking.baud(), asking.parity());
        let heard = request.received(self.baud, self.parity);
        let answers = self.profiles.iter().any(|profile| profile.request().as_ref() == Some(&heard));
        let bytes = if answers {
            let bursts = self.bursts(seconds, u64::from(asking.baud()));
            Levels::sent(&bursts, self.baud, self.parity).received(asking.baud(), asking.parity())
        } else {
            Vec::new()
        };
        ready(Ok(Heard { bytes, seconds: Some(seconds) }))
    }
}

fn candidates() -> Vec<Profile> {
    Profile::BUILT_IN.into_iter().filter_map(Profile::built_in).collect()
}

async fn identified(mut sensor: Sensor) -> Identity {
    identify(&mut sensor, &candidates(), &USUAL_BAUDS, Duration::from_millis(1500)).await.unwrap()
}

#[tokio::test]
async fn sixty_of_sixty_sensors_are_named_with_their_baud() {
    let bauds = [4800, 9600, 19_200, 38_400, 57_600, 115_200, 115_200, 230_400, 460_800, 921_600];
    let (mut right, mut wrong) = (0, Vec::new());
    for (kind, profile) in candidates().into_iter().enumerate() {
        for (n, baud) in bauds.into_iter().enumerate() {
            let sensor = Sensor {
                profiles: vec![profile.clone()],
                baud,
                parity: if profile.request().is_some() && n % 2 == 0 { Parity::Even } else { Parity::None },
                damage: [0.0, 0.001, 0.003, 0.006][n % 4],
                garbage: [0, 7, 40, 150, 300][n % 5],
                seed: (1000 * kind + 17 * n + 3) as u64,
            };
            let Identity { verdict, seen } = identified(sensor.clone()).await;
            match verdict {
                Verdict::Fits(fits)
                    if fits.profile.name() == profile.name()
                        && fits.profile.baud() == baud
                        && fits.profile.parity() == sensor.parity =>
                {
                    right += 1;
                    assert!(fits.share > 0.6 && fits.good >= 5, "{fits:?}");
                    assert!((fits.gravity.value() - 1.0).abs() < 0.05, "{fits:?}");
                    assert!(fits.profile.counts_per_g() == profile.counts_per_g(), "{fits:?}");
                    // The garbage takes time of what is counted without a clock.
                    let rate = fits.rate.unwrap().value() * sensor.period(&profile, &mut Random::new(1));
                    assert!(rate > if profile.has_clock() { 0.7 } else { 0.3 } && rate < 1.3, "{rate} {fits:?}");
                }
                other => wrong.push(format!("{} at {baud}, {n}: {other:?} of {seen:?}", profile.name())),
            }
        }
    }
    println!("{right} of 60 right");
    assert_eq!(right, 60, "{}", wrong.join("\n"));
}

#[tokio::test]
async fn two_sensors_on_one_line_are_none() {
    let talking: Vec<Profile> = candidates().into_iter().filter(|profile| profile.request().is_none()).collect();
    let (mut tried, mut told_apart) = (0, 0);
    for (n, first) in talking.iter().enumerate() {
        for second in &talking[n + 1..] {
            for (baud, damage) in [(115_200, 0.0), (38_400, 0.003)] {
                let profiles = vec![first.clone(), second.clone()];
                let sensor = Sensor { profiles, baud, parity: Parity::None, damage, garbage: 20, seed: 99 + n as u64 };
                let Identity { verdict, .. } = identified(sensor).await;
                match verdict {
                    Verdict::Mixed(several) => {
                        let mut names: Vec<&str> = several.iter().map(|one| one.profile.name()).collect();
                        names.sort_unstable();
                        let mut both = [first.name(), second.name()];
                        both.sort_unstable();
                        assert_eq!(names, both);
                        told_apart += 1;
                    }
                    // A binary frame glued to a line spoils the line for good.
                    Verdict::NoneFits => assert!(second.name() == "frame", "{} and {}", first.name(), second.name()),
                    other => panic!("{} and {}: {other:?}", first.name(), second.name()),
                }
                tried += 1;
            }
        }
    }
    assert!(tried == 20 && told_apart >= 12, "{told_apart} of {tried} told apart");
}

/// Bytes that mean nothing, whatever the baud.
struct Noise(Random, fn(u64) -> u8);

impl Line for Noise {
    fn listen(&mut self, _: u32, _: Parity, _: Duration) -> impl Future<Output = Result<Heard, StreamError>> + Send {
        let bytes = (0..6000).map(|_| (self.1)(self.0.bits())).collect();
        ready(Ok(Heard { bytes, seconds: Some(1.5) }))
    }

    fn ask(&mut self, _: &Profile, within: Duration) -> impl Future<Output = Result<Heard, StreamError>> + Send {
        self.listen(0, Parity::None, within)
    }
}

#[tokio::test]
async fn random_bytes_are_no_sensor() {
    let digits = |bits| b"0123456789.-,; \n"[(bits % 16) as usize];
    for (seed, kind) in (0..20).map(|seed| (seed, if seed % 2 == 0 { |bits| bits as u8 } else { digits })) {
        let mut line = Noise(Random::new(seed), kind);
        let identity = identify(&mut line, &candidates(), &USUAL_BAUDS, Duration::from_millis(1500)).await.unwrap();
        assert_eq!(identity.verdict, Verdict::NoneFits, "{seed}");
        assert_eq!(identity.seen.len(), USUAL_BAUDS.len());
        assert!(identity.seen.iter().all(|seen| seen.bytes == 6000 && !seen.shown.is_empty()));
    }
}

/// Nobody talks, nobody answers.
struct Nothing(usize);

impl Line for Nothing {
    fn listen(&mut self, _: u32, _: Parity, _: Duration) -> impl Future<Output = Result<Heard, StreamError>> + Send {
        self.0 += 1;
        ready(Ok(Heard { bytes: Vec::new(), seconds: Some(1.5) }))
    }

    fn ask(&mut self, _: &Profile, within: Duration) -> impl Future<Output = Result<Heard, StreamError>> + Send {
        self.listen(0, Parity::None, within)
    }
}

#[tokio::test]
async fn silence_is_told_soon() {
    let mut line = Nothing(0);
    let identity = identify(&mut line, &candidates(), &USUAL_BAUDS, Duration::from_millis(1500)).await.unwrap();
    assert_eq!(identity.verdict, Verdict::Silent);
    assert_eq!(line.0, 2 + 2 * USUAL_BAUDS.len(), "twice listened, and asked at each baud without and with parity");
}

#[test]
fn numbers_in_another_unit_are_known_by_gravity() {
    for (per_g, text) in [(1000.0, "mg"), (9.806_65, "m/s²"), (256.0, "8 bits a g"), (16_384.0, "14 bits a g")] {
        let mut log = b"\r\n".to_vec();
        let profile = Profile::columns().with(Overrides { counts_per_g: Some(per_g), ..Overrides::default() }).unwrap();
        let sensor =
            Sensor { profiles: vec![profile.clone()], baud: 1, parity: Parity::None, damage: 0.0, garbage: 0, seed: 5 };
        let mut random = Random::new(1);
        (0..40).for_each(|seq| log.extend(sensor.frame(&profile, seq, 0.01 * f64::from(seq), &mut random)));
        let Verdict::Fits(fits) = identify_recording(log, &candidates()).verdict else { panic!("{text}") };
        assert_eq!((fits.profile.name(), fits.profile.counts_per_g()), ("columns", per_g), "{text}");
    }
    // Three numbers a line that are no gravity are no sensor.
    let temperatures = "21.5,22.0,19.8\r\n".repeat(40).into_bytes();
    let identity = identify_recording(temperatures, &candidates());
    assert_eq!(identity.verdict, Verdict::NoneFits);
    assert!(identity.seen[0].is_text && !identity.seen[0].evidence[0].gravity_fits);
}
