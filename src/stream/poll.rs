//! A sensor that answers only when it is asked: the request goes out at an even pace, and what comes back is read.
//!
//! Between two frames the line is silent for at least 3.5 characters, as Modbus over a serial line has it. An adapter that
//! sends back what it was given (two wires, one for both ways) is recognised, and its echo left out.

use super::profile::Profile;
use super::source::Reader;
use bytes::{Bytes, BytesMut};
use futures_util::stream;
use std::io;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::time::{Instant, sleep_until, timeout_at};
use tokio_util::io::StreamReader;

/// How long a slave may think about its answer, besides the time that the bytes take.
const THINKING: Duration = Duration::from_millis(200);
/// Start bit, 8 data bits, parity or a second stop bit, stop bit (MODBUS over Serial Line V1.02).
const BITS_PER_CHARACTER: f64 = 11.0;
/// The silence between frames, in characters; from 19200 baud on it is this long at least (the same specification).
const SILENT_CHARACTERS: f64 = 3.5;
const LEAST_SILENCE: Duration = Duration::from_micros(1750);
const USUAL_RATE_HZ: f64 = 20.0;

struct Poll<L> {
    line: L,
    request: Vec<u8>,
    /// How many bytes a good answer has.
    answer: usize,
    period: Duration,
    character: Duration,
    next: Instant,
    /// What has come since the last request; none before the first.
    since_request: Option<BytesMut>,
    /// How many of them were an echo, or have been handed on.
    given: usize,
    give_up: Instant,
}

/// The answers to the profile's request, asked again and again; what the profile does not ask for is read as it comes.
pub(super) fn reader<L>(line: L, profile: &Profile) -> Reader
where
    L: AsyncRead + AsyncWrite + Send + Unpin + 'static,
{
    let answer = match profile.format() {
        super::Format::Modbus(layout) => layout.answer().length,
        _ => 0,
    };
    let rate = profile.rate().map_or(USUAL_RATE_HZ, |rate| rate.value());
    let poll = Poll {
        line,
        request: profile.request().unwrap_or_default(),
        answer,
        period: Duration::from_secs_f64(1.0 / rate),
        character: Duration::from_secs_f64(BITS_PER_CHARACTER / f64::from(profile.baud().max(1))),
        next: Instant::now(),
        since_request: None,
        given: 0,
        give_up: Instant::now(),
    };
    let bytes = stream::try_unfold(poll, |mut poll| async move {
        let bytes = poll.bytes().await?;
        Ok::<_, io::Error>((!bytes.is_empty()).then_some((bytes, poll)))
    });
    Box::new(StreamReader::new(Box::pin(bytes)))
}

impl<L: AsyncRead + AsyncWrite + Send + Unpin> Poll<L> {
    /// The next bytes of an answer; empty when the line is gone.
    async fn bytes(&mut self) -> io::Result<Bytes> {
        loop {
            if self.since_request.is_none() {
                self.ask().await?;
            }
            let mut new = BytesMut::with_capacity(256);
            match timeout_at(self.give_up, self.line.read_buf(&mut new)).await {
                Err(_) => self.rest(),
                Ok(read) => {
                    if read? == 0 {
                        return Ok(Bytes::new());
                    }
                    let answer = self.answered(&new);
                    if !answer.is_empty() {
                        return Ok(answer);
                    }
                }
            }
        }
    }

    async fn ask(&mut self) -> io::Result<()> {
        sleep_until(self.next).await;
        let now = Instant::now();
        self.line.write_all(&self.request).await?;
        self.line.flush().await?;
        let characters = u32::try_from(self.request.len() + self.answer).unwrap_or(u32::MAX);
        self.give_up = now + self.character.saturating_mul(characters) + THINKING;
        // An even pace, unless the slave is too slow for it.
        self.next = (self.next + self.period).max(now + self.period / 2);
        self.since_request = Some(BytesMut::new());
        self.given = 0;
        Ok(())
    }

    /// Takes in bytes: gives those of the answer, and sees whether it is complete.
    fn answered(&mut self, new: &[u8]) -> Bytes {
        let Some(so_far) = &mut self.since_request else { return Bytes::copy_from_slice(new) };
        so_far.extend_from_slice(new);
        let both = so_far.len().min(self.request.len());
        let comes_back = so_far.get(..both) == self.request.get(..both);
        if comes_back && both < self.request.len() {
            // As yet it may be an echo or an answer.
            return Bytes::new();
        }
        let front = if comes_back { both } else { 0 };
        let answer = so_far.get(front.max(self.given)..).unwrap_or_default();
        let answer = Bytes::copy_from_slice(answer);
        self.given = so_far.len();
        if so_far.len() >= front + self.answer {
            self.rest();
        }
        answer
    }

    /// The answer is complete, or is not waited for any longer: the line is left silent before the next request.
    fn rest(&mut self) {
        let silence = self.character.mul_f64(SILENT_CHARACTERS).max(LEAST_SILENCE);
        self.next = self.next.max(Instant::now() + silence);
        self.since_request = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codec::Frame;

    #[tokio::test(start_paused = true)]
    async fn a_sensor_is_asked_at_an_even_pace() {
        let profile = Profile::modbus();
        let (line, mut slave) = tokio::io::duplex(256);
        let mut answers = reader(line, &profile);
        let mut answer = Vec::new();
        let frame = Frame { seq: 0, micros: 0, counts: [259.0, -10.0, 966.0], celsius: None };
        profile.encoder().encode(&frame, &mut answer);
        let mut read = answer.clone();
        tokio::spawn(async move {
            let mut request = [0; 8];
            while slave.read_exact(&mut request).await.is_ok() {
                slave.write_all(&answer).await.unwrap();
            }
        });
        let begun = Instant::now();
        for _ in 0..40 {
            answers.read_exact(&mut read).await.unwrap();
        }
        // Twenty a second: 39 periods lie between the first and the last.
        let took = begun.elapsed();
        assert!((1950..1955).contains(&took.as_millis()), "{took:?}");
    }
}
