//! Chance that is the same in every run.

/// Steele, Lea, Flood: SplitMix64 (OOPSLA 2014).
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Below `end`, which is above zero.
    pub const fn below(&mut self, end: usize) -> usize {
        (self.bits() % end as u64) as usize
    }

    /// From `first` to before `end`.
    pub const fn between(&mut self, first: usize, end: usize) -> usize {
        first + self.below(end - first)
    }

    pub const fn byte(&mut self) -> u8 {
        self.bits() as u8
    }

    pub fn one_of<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }
}
