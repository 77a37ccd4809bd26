//! A bundle: neighbours in the order of their keys, kept as one pair of an engine that is paid by the pair.
//!
//! It stands under the key of its last member. A value of the store by itself is written as it is.
//!
//! ```text
//! [mark u8][crc32 u32][members u16]
//! for each member: [bytes shared with the key before u8][bytes of the rest u16][bytes of the value u32][rest of the key]
//! for each member: [value]
//! ```
//!
//! The checksum covers the key under which the bundle stands and everything before the values, each of which has a
//! checksum of its own: a bit that flips in one value costs that value and not its neighbours.

use super::engine::{EngineError, Pair};

/// What a bundle begins with. From what a value by itself begins with no single bit leads to it.
const MARK: u8 = 2;
/// What a value by itself begins with: the format of its frame.
const BARE: u8 = super::bytes::FORMAT;
/// About how many bytes a bundle has at most. More make fewer pairs, and every single write writes its neighbours too.
const MOST: usize = 2 << 10;
/// What is larger than this stands by itself: it would be written again with every change of a small neighbour.
const LARGE: usize = MOST / 2;
/// The bytes of the mark and the checksum.
const MARK_BYTES: usize = 5;
/// The bytes before the members.
const START: usize = MARK_BYTES + 2;
/// The bytes of a member beside its key and value.
const MEMBER: usize = 7;

/// A bundle laid open.
pub struct Opened<'b> {
    /// The keys, one after the other, and where each ends.
    names: Vec<u8>,
    ends: Vec<usize>,
    values: Vec<&'b [u8]>,
}

impl<'b> Opened<'b> {
    /// Lays a bundle open.
    ///
    /// # Errors
    /// If it can't be told any more what the members are.
    pub fn of(key: &[u8], bytes: &'b [u8]) -> Result<Self, EngineError> {
        let mut opened = Self { names: Vec::with_capacity(bytes.len()), ends: Vec::new(), values: Vec::new() };
        each(key, bytes, |key, value| {
            opened.names.extend_from_slice(key);
            opened.ends.push(opened.names.len());
            opened.values.push(value);
            true
        })?;
        Ok(opened)
    }

    /// The members in the order of their keys.
    pub fn members(&self) -> impl Iterator<Item = Member<'_>> {
        let mut start = 0;
        self.ends.iter().zip(&self.values).map(move |(end, value)| {
            let name = &self.names[start..*end];
            start = *end;
            (name, *value)
        })
    }
}

/// Whether this is a value by itself.
fn is_bare(bytes: &[u8]) -> bool {
    bytes.first() == Some(&BARE)
}

/// Calls `visit` for each member in the order of the keys, until it says that it has enough; whether it never did.
///
/// # Errors
/// If it can't be told any more what the members are.
pub fn each<'b>(
    key: &[u8],
    bytes: &'b [u8],
    mut visit: impl FnMut(&[u8], &'b [u8]) -> bool,
) -> Result<bool, EngineError> {
    if is_bare(bytes) {
        return Ok(visit(key, bytes));
    }
    let damaged = || {
        EngineError::Damaged(format!(
            "the bundle that ends with {} is not what was written",
            super::keys::in_words(key)
        ))
    };
    let mut table = table_of(key, bytes).ok_or_else(damaged)?;
    let mut values = bytes.get(START + table.len()..).unwrap_or_default();
    let mut name = Vec::with_capacity(key.len() + 16);
    while !table.is_empty() {
        let (shared, rest, length) = next_member(&mut table).ok_or_else(damaged)?;
        let (value, others) = values.split_at_checked(length).ok_or_else(damaged)?;
        name.truncate(shared);
        name.extend_from_slice(rest);
        values = others;
        if !visit(&name, value) {
            return Ok(false);
        }
    }
    Ok(true)
}

/// What says where the members are, if it is what was written.
fn table_of<'b>(key: &[u8], bytes: &'b [u8]) -> Option<&'b [u8]> {
    let crc = u32::from_be_bytes(bytes.get(1..MARK_BYTES)?.try_into().ok()?);
    let head = bytes.get(MARK_BYTES..head_end(bytes)?)?;
    (bytes.first() == Some(&MARK) && crc == checksum(key, head)).then(|| head.get(2..)).flatten()
}

/// Where the values begin, if there is just room for those that are announced.
fn head_end(bytes: &[u8]) -> Option<usize> {
    let members = u16::from_be_bytes(bytes.get(MARK_BYTES..START)?.try_into().ok()?);
    let mut rest = bytes.get(START..)?;
    let (mut values, mut before) = (0_usize, 0);
    for _ in 0..members {
        let (shared, name, length) = next_member(&mut rest)?;
        if shared > before {
            return None;
        }
        before = shared + name.len();
        values = values.checked_add(length)?;
    }
    (values == rest.len()).then(|| bytes.len() - rest.len())
}

/// The next member: how much of its key is that of the one before, the rest of it, and the bytes of the value.
fn next_member<'b>(table: &mut &'b [u8]) -> Option<(usize, &'b [u8], usize)> {
    let ([shared, long @ ..], after) = table.split_first_chunk::<3>()?;
    let (length, after) = after.split_first_chunk::<4>()?;
    let (rest, after) = after.split_at_checked(usize::from(u16::from_be_bytes(*long)))?;
    *table = after;
    Some((usize::from(*shared), rest, usize::try_from(u32::from_be_bytes(*length)).ok()?))
}

fn checksum(key: &[u8], head: &[u8]) -> u32 {
    let mut crc = crc32fast::Hasher::new();
    crc.update(key);
    crc.update(head);
    crc.finalize()
}

/// Writes the checksum into a bundle that has everything else.
pub fn seal(key: &[u8], bytes: &mut [u8]) {
    if let Some(crc) = head_end(bytes).map(|end| checksum(key, &bytes[MARK_BYTES..end])) {
        bytes[0] = MARK;
        bytes[1..MARK_BYTES].copy_from_slice(&crc.to_be_bytes());
    }
}

/// A member on its way into a bundle.
pub type Member<'m> = (&'m [u8], &'m [u8]);

fn size((key, value): &Member<'_>) -> usize {
    MEMBER + key.len() + value.len()
}

/// Makes as few bundles of members in order as may be, and all about as large.
pub fn pack(members: &[Member<'_>]) -> Result<Vec<Pair>, EngineError> {
    let mut bundles = Vec::new();
    for small in members.chunk_by(|one, next| size(one) <= LARGE && size(next) <= LARGE) {
        let bytes: usize = small.iter().map(size).sum();
        let goal = bytes / bytes.div_ceil(MOST).max(1);
        let (mut first, mut so_far) = (0, 0);
        for (at, member) in small.iter().enumerate() {
            if at > first && so_far + size(member) / 2 > goal {
                bundles.push(bundle(&small[first..at])?);
                (first, so_far) = (at, 0);
            }
            so_far += size(member);
        }
        bundles.push(bundle(&small[first..])?);
    }
    Ok(bundles)
}

/// One bundle of some members.
fn bundle(members: &[Member<'_>]) -> Result<Pair, EngineError> {
    let too_much = |_| EngineError::Refused("a key or a value is too long to be stored".to_owned());
    let key = members.last().map(|(key, _)| key.to_vec()).unwrap_or_default();
    if let [(_, value)] = members
        && is_bare(value)
    {
        return Ok((key, value.to_vec()));
    }
    let mut bytes = Vec::with_capacity(START + members.iter().map(size).sum::<usize>());
    bytes.resize(MARK_BYTES, 0);
    bytes.extend(u16::try_from(members.len()).map_err(too_much)?.to_be_bytes());
    let mut before: &[u8] = &[];
    for (name, value) in members {
        let shared =
            before.iter().zip(*name).take(usize::from(u8::MAX)).take_while(|(one, other)| one == other).count();
        bytes.push(u8::try_from(shared).map_err(too_much)?);
        bytes.extend(u16::try_from(name.len() - shared).map_err(too_much)?.to_be_bytes());
        bytes.extend(u32::try_from(value.len()).map_err(too_much)?.to_be_bytes());
        bytes.extend_from_slice(&name[shared..]);
        before = name;
    }
    members.iter().for_each(|(_, value)| bytes.extend_from_slice(value));
    seal(&key, &mut bytes);
    // Of a batch many are held at once, and there was room for keys that share nothing.
    Ok((key, bytes.as_slice().to_vec()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn members_of((key, bytes): &Pair) -> Result<Vec<Pair>, EngineError> {
        let mut members = Vec::new();
        each(key, bytes, |key, value| {
            members.push((key.to_vec(), value.to_vec()));
            true
        })?;
        Ok(members)
    }

    fn pairs() -> impl Strategy<Value = Vec<Pair>> {
        let key = prop::collection::vec(prop_oneof![Just(0_u8), Just(1), Just(0xff), any::<u8>()], 1..280);
        let value = (
            prop_oneof![4 => Just(BARE), 1 => Just(MARK), 1 => any::<u8>()],
            prop_oneof![9 => 0_usize..90, 1 => 900_usize..4000],
        );
        let value = value.prop_map(|(byte, length)| vec![byte; length]);
        prop::collection::btree_map(key, value, 1..40).prop_map(|pairs| pairs.into_iter().collect())
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn holds_what_was_put_in_under_its_last_key(pairs in pairs()) {
            let members: Vec<Member<'_>> = pairs.iter().map(|(key, value)| (&key[..], &value[..])).collect();
            let bundles = pack(&members).unwrap();
            let mut unpacked = Vec::new();
            for bundle in &bundles {
                let members = members_of(bundle).unwrap();
                prop_assert_eq!(&members.last().unwrap().0, &bundle.0);
                let bytes: usize = members.iter().map(|(key, value)| size(&(key, value))).sum();
                prop_assert!(members.len() == 1 || bytes < MOST + LARGE, "{} bytes", bytes);
                unpacked.extend(members);
            }
            prop_assert_eq!(unpacked, pairs);
        }

        /// A flipped bit is told, or it is in a value, which has a checksum of its own.
        #[test]
        fn a_bit_that_flips_moves_no_value_to_another_key(
            pairs in pairs(),
            at in any::<prop::sample::Index>(),
            bit in 0_u8..8,
        ) {
            let members: Vec<Member<'_>> = pairs.iter().map(|(key, value)| (&key[..], &value[..])).collect();
            for sound in pack(&members).unwrap() {
                if is_bare(&sound.1) {
                    continue;
                }
                let before = members_of(&sound).unwrap();
                let mut hit = sound.clone();
                let place = at.index(sound.0.len() + sound.1.len());
                let byte = if place < sound.0.len() { &mut hit.0[place] } else { &mut hit.1[place - sound.0.len()] };
                *byte ^= 1 << bit;
                if let Ok(after) = members_of(&hit) {
                    let keys = |pairs: &[Pair]| pairs.iter().map(|(key, _)| key.clone()).collect::<Vec<_>>();
                    prop_assert_eq!(keys(&before), keys(&after));
                    let differing = before.iter().zip(&after).filter(|(one, other)| one != other).count();
                    prop_assert_eq!(differing, 1);
                }
            }
        }
    }

    /// The bytes of format 2, spelled out once and for ever; the checksum is that of another program.
    #[test]
    fn its_form_never_changes() {
        let members: [Member<'_>; 2] = [(b"c1", &[BARE, 7, 8]), (b"c12", &[BARE, 9])];
        let head = [0, 2, 0, 0, 2, 0, 0, 0, 3, b'c', b'1', 2, 0, 1, 0, 0, 0, 2, b'2'];
        let bytes = [&[2, 0xe4, 0x30, 0xa4, 0x87][..], &head, &[1, 7, 8, 1, 9]].concat();
        assert_eq!(pack(&members).unwrap(), [(b"c12".to_vec(), bytes)]);
        assert_eq!(pack(&members[..1]).unwrap(), [(b"c1".to_vec(), vec![1, 7, 8])]);
    }

    #[test]
    fn cut_off_at_any_place_it_is_told() {
        let pairs: Vec<Pair> = (0..9_u8).map(|number| (vec![b'c', number], vec![BARE; 40])).collect();
        let members: Vec<Member<'_>> = pairs.iter().map(|(key, value)| (&key[..], &value[..])).collect();
        let [(key, bytes)] = &pack(&members).unwrap()[..] else { panic!("one bundle") };
        for length in 1..bytes.len() {
            let cut = members_of(&(key.clone(), bytes[..length].to_vec()));
            assert!(matches!(cut, Err(EngineError::Damaged(_))), "{length}: {cut:?}");
        }
    }
}
