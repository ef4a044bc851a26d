//! Consistent overhead byte stuffing: frames without a zero byte, so that zeros part them.
//!
//! After S. Cheshire and M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7 (1999).
//! Each code byte says how many bytes follow it up to the next zero; 255 says 254 bytes and no zero.

/// The most bytes that `length` bytes can become, without the zero behind them.
#[must_use]
pub const fn longest(length: usize) -> usize {
    length + length / 254 + 1
}

/// Appends the stuffed bytes, without the zero that ends them.
pub fn stuff(bytes: &[u8], out: &mut Vec<u8>) {
    let mut blocks = bytes.split(|byte| *byte == 0).peekable();
    while let Some(mut block) = blocks.next() {
        while let Some((full, rest)) = block.split_at_checked(254) {
            // A full block at the very end needs no empty one behind it.
            if rest.is_empty() && blocks.peek().is_none() {
                break;
            }
            out.push(255);
            out.extend_from_slice(full);
            block = rest;
        }
        out.push(block.len() as u8 + 1);
        out.extend_from_slice(block);
    }
}

/// The bytes that were stuffed; none where a code byte points beyond the end, or a zero stands inside.
#[must_use]
pub fn unstuff(stuffed: &[u8]) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(stuffed.len());
    let mut rest = stuffed;
    while let Some((&code, behind)) = rest.split_first() {
        let (block, behind) = behind.split_at_checked(usize::from(code.checked_sub(1)?))?;
        if block.contains(&0) {
            return None;
        }
        bytes.extend_from_slice(block);
        if code < 255 && !behind.is_empty() {
            bytes.push(0);
        }
        rest = behind;
    }
    (!stuffed.is_empty()).then_some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stuffed(bytes: &[u8]) -> Vec<u8> {
        let mut out = Vec::new();
        stuff(bytes, &mut out);
        out
    }

    /// S. Cheshire and M. Baker, *Consistent Overhead Byte Stuffing*, IEEE/ACM Transactions on Networking 7(2), 1999, figure 3: the
    /// front of an IP header.
    #[test]
    fn the_papers_packet() {
        let packet = [0x45, 0x00, 0x00, 0x2c, 0x4c, 0x79, 0x00, 0x00, 0x40, 0x06, 0x4f, 0x37];
        let sent = [0x02, 0x45, 0x01, 0x04, 0x2c, 0x4c, 0x79, 0x01, 0x05, 0x40, 0x06, 0x4f, 0x37];
        assert_eq!(stuffed(&packet), sent);
        assert_eq!(unstuff(&sent).unwrap(), packet);
    }

    /// The table of examples in the encyclopedia article on COBS (en.wikipedia.org) [from memory].
    #[test]
    fn the_usual_examples() {
        let run = |from: u8, to: u8| (from..=to).collect::<Vec<u8>>();
        let after = |code: u8, bytes: &[u8]| [&[code], bytes].concat();
        let examples: Vec<(Vec<u8>, Vec<u8>)> = vec![
            (vec![0], vec![1, 1]),
            (vec![0, 0], vec![1, 1, 1]),
            (vec![0, 0x11, 0], vec![1, 2, 0x11, 1]),
            (vec![0x11, 0x22, 0, 0x33], vec![3, 0x11, 0x22, 2, 0x33]),
            (vec![0x11, 0x22, 0x33, 0x44], vec![5, 0x11, 0x22, 0x33, 0x44]),
            (vec![0x11, 0, 0, 0], vec![2, 0x11, 1, 1, 1]),
            (run(1, 254), after(255, &run(1, 254))),
            ([vec![0], run(1, 254)].concat(), [vec![1], after(255, &run(1, 254))].concat()),
            (run(1, 255), [after(255, &run(1, 254)), vec![2, 0xff]].concat()),
            ([run(2, 255), vec![0]].concat(), [after(255, &run(2, 255)), vec![1, 1]].concat()),
            ([run(3, 255), vec![0, 1]].concat(), [after(254, &run(3, 255)), vec![2, 1]].concat()),
        ];
        for (plain, sent) in examples {
            assert_eq!(stuffed(&plain), sent, "{plain:02x?}");
            assert_eq!(unstuff(&sent).unwrap(), plain, "{sent:02x?}");
        }
    }

    #[test]
    fn what_was_never_stuffed_is_none() {
        for bytes in [&[][..], &[0], &[3, 1], &[2, 0], &[2, 1, 0, 1]] {
            assert_eq!(unstuff(bytes), None, "{bytes:02x?}");
        }
    }
}
