//! The bench page's server in words: what it answers where it does not do what was asked.

/// The simulated head is gone.
pub const HEAD_ENDED: &str = "The simulated head has ended.";
/// A line for the simulated hands that is none.
pub const HANDS_DO_NOT_UNDERSTAND: &str = "The simulated hands do not understand that.";
/// A line for the simulated hands that is not theirs.
pub const HANDS_DO_NOT: &str = "The simulated hands do not do that.";
/// Every place for an onlooker is taken.
pub const TOO_MANY_PAGES: &str = "Too many pages are open already: close one.";
/// A body that is too large or incomplete.
pub const TOO_LONG: &str = "That broke off, or is longer than anything to do here.";
/// A body that takes too long.
pub const TOO_SLOW: &str = "That came too slowly: do it again.";
/// A request without a host, or with two.
pub const ONE_HOST: &str = "A request names its host, once.";
/// A host that is not ours.
pub const WRONG_ADDRESS: &str = "Open the page by the address that the terminal shows.";
/// No cookie.
pub const PAIR_FIRST: &str = "Pair this device first: scan the code that the terminal shows.";
/// From another site.
pub const NOT_FROM_HERE: &str = "That does not come from this page.";
/// A token that is none, or was used.
pub const CODE_USED: &str = "This code is wrong or has been used: scan the one that the terminal shows now.";

/// An act that is none.
#[must_use]
pub fn not_understood(error: &str) -> String {
    format!("The bench does not understand that: {error}.")
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Everything of the page's server, a line each.
    pub fn all() -> Vec<String> {
        let mut lines = [
            HEAD_ENDED,
            HANDS_DO_NOT_UNDERSTAND,
            HANDS_DO_NOT,
            TOO_MANY_PAGES,
            TOO_LONG,
            TOO_SLOW,
            ONE_HOST,
            WRONG_ADDRESS,
            PAIR_FIRST,
            NOT_FROM_HERE,
            CODE_USED,
        ]
        .map(str::to_owned)
        .to_vec();
        lines.push(not_understood("expected value at line 1 column 1"));
        lines
    }

    #[test]
    fn the_pages_server() {
        insta::assert_snapshot!(all().join("\n"));
    }
}
