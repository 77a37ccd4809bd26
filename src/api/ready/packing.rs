//! Records as they are sent, kept in a part of the room: what they have in common stands once in a dictionary.
//!
//! The dictionary is some records of the very book, from all over it. How small the others get depends on how much they are
//! like those; what comes out is always what went in.

use lz4_flex::block::{compress_into_with_dict, decompress_into_with_dict, get_maximum_output_size};

/// How large a dictionary may be. Twice as much would make records hardly smaller, and packing them takes twice as long.
const DICTIONARY: usize = 32 << 10;
/// A dictionary smaller than this is of no use.
const LEAST: usize = 1 << 10;

/// A way to keep records in little room.
pub struct Packing(Box<[u8]>);

impl Packing {
    /// Learns from some records, the first ones if there are many; nothing if these are too few to learn from.
    pub fn learnt_from(lines: &[impl AsRef<[u8]>]) -> Option<Self> {
        let mut dictionary = Vec::with_capacity(DICTIONARY);
        for line in lines.iter().map(AsRef::as_ref) {
            if dictionary.len() + line.len() <= DICTIONARY {
                dictionary.extend_from_slice(line);
            }
        }
        (dictionary.len() >= LEAST).then(|| Self(dictionary.into()))
    }

    /// The packed form; nothing where it would not be smaller.
    pub fn packed(&self, line: &[u8]) -> Option<Box<[u8]>> {
        let mut packed = vec![0; get_maximum_output_size(line.len())];
        let length = compress_into_with_dict(line, &mut packed, &self.0).ok()?;
        (length < line.len()).then(|| packed[..length].into())
    }

    /// Writes what was packed behind what is there already; `length` is how long it was. Says whether it could be unpacked;
    /// where it could not, nothing is written.
    pub fn unpack(&self, packed: &[u8], length: usize, onto: &mut Vec<u8>) -> bool {
        let start = onto.len();
        onto.resize(start + length, 0);
        let unpacked = decompress_into_with_dict(packed, &mut onto[start..], &self.0);
        let is_whole = unpacked.is_ok_and(|unpacked| unpacked == length);
        if !is_whole {
            onto.truncate(start);
        }
        is_whole
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::sync::LazyLock;

    fn line(number: usize) -> String {
        let torque = 20 + number % 7;
        format!(
            "{{\"kind\":\"fastener\",\"id\":\"skua.pump-{number}.cover.hex\",\"name\":\"Cover bolt\",\"thread\":\"M{}\",\
             \"stages\":[\"{torque} N·m\"],\"source\":{{\"document\":\"Skerry Yard workshop book\",\"page\":\"{}\"}}}}\n",
            6 + number % 3 * 2,
            number * 31 % 300
        )
    }

    static PACKING: LazyLock<Packing> =
        LazyLock::new(|| Packing::learnt_from(&(0..300).map(line).collect::<Vec<_>>()).expect("enough to learn from"));

    fn comes_back(bytes: &[u8]) -> bool {
        let Some(packed) = PACKING.packed(bytes) else { return true };
        let mut whole = b"before".to_vec();
        assert!(PACKING.unpack(&packed, bytes.len(), &mut whole));
        whole.strip_prefix(b"before") == Some(bytes)
    }

    proptest! {
        #[test]
        fn whatever_is_packed_comes_back_to_the_byte(
            bytes in prop::collection::vec(any::<u8>(), 0..2000), numbers in prop::collection::vec(0_usize..100_000, 0..9),
        ) {
            let mut alike: Vec<u8> = numbers.iter().flat_map(|number| line(*number).into_bytes()).collect();
            prop_assert!(comes_back(&alike));
            alike.extend_from_slice(&bytes);
            prop_assert!(comes_back(&alike) && comes_back(&bytes));
        }

        /// A damaged one is refused, or is at least as long as it says; nothing is written where it is refused.
        #[test]
        fn what_can_not_be_unpacked_leaves_nothing(bytes in prop::collection::vec(any::<u8>(), 0..300), length in 0_usize..400) {
            let mut whole = b"before".to_vec();
            let is_unpacked = PACKING.unpack(&bytes, length, &mut whole);
            prop_assert_eq!(whole.len(), 6 + if is_unpacked { length } else { 0 });
            prop_assert!(whole.starts_with(b"before"));
        }
    }

    #[test]
    fn records_that_are_alike_take_little_room() {
        let (lines, packed) = (1000..1200).map(line).fold((0, 0), |(lines, packed), line| {
            (lines + line.len(), packed + PACKING.packed(line.as_bytes()).expect("it gets smaller").len())
        });
        assert!(packed * 2 < lines, "{lines} bytes take {packed}");
    }

    #[test]
    fn from_too_little_nothing_is_learnt() {
        assert!(Packing::learnt_from(&[line(1)]).is_none() && Packing::learnt_from(&[""; 0]).is_none());
    }
}
