//! The words of a record, and how a word that is looked for meets them.

use crate::record::{Fastener, Joint, Record, Text};
use std::collections::BTreeSet;

/// The words of a book, in order.
pub type Vocabulary = BTreeSet<String>;

/// The shortest word in which one wrong letter is forgiven.
const FORGIVEN_FROM: usize = 4;

/// The words of a text, in lower case. A point or comma between digits belongs to the word (`1.25`), `×` is
/// written `x`, so that `M8×1.25` is the one word `m8x1.25`.
#[must_use]
pub fn folded_words(text: &str) -> Vec<String> {
    let mut words = Vec::new();
    each_folded(text, &mut |word| words.push(word.to_owned()));
    words
}

/// Calls `take` for each word of a text.
fn each_folded(text: &str, take: &mut dyn FnMut(&str)) {
    let mut word = String::with_capacity(text.len());
    let mut characters = text.chars().peekable();
    while let Some(c) = characters.next() {
        let mut is_between_digits =
            || word.ends_with(|c: char| c.is_ascii_digit()) && characters.peek().is_some_and(char::is_ascii_digit);
        match c {
            c if c.is_ascii_alphanumeric() => word.push(c.to_ascii_lowercase()),
            '×' => word.push('x'),
            '.' | ',' if is_between_digits() => word.push('.'),
            '/' if is_between_digits() => word.push('/'),
            c if c.is_alphanumeric() => word.extend(c.to_lowercase()),
            _ if word.is_empty() => {}
            _ => {
                take(&word);
                word.clear();
            }
        }
    }
    if !word.is_empty() {
        take(&word);
    }
}

/// The words of a record that can be looked for: of its id, names, thread, class, head, drive, part numbers,
/// materials, notes and cautions, and of the document it was read from.
#[must_use]
pub fn words_of(record: &Record) -> BTreeSet<String> {
    let mut words = BTreeSet::new();
    each_word_of(record, &mut |word| {
        words.insert(word.to_owned());
    });
    words
}

/// Calls `take` for each of them in the order in which they stand there, for some more than once.
pub fn each_word_of(record: &Record, take: &mut dyn FnMut(&str)) {
    let mut add = |text: &str| each_folded(text, take);
    add(record.id().as_str().replace('.', " ").as_str());
    match record {
        Record::Joint(joint) => add_joint(joint, &mut add),
        Record::Fastener(fastener) => add_fastener(fastener, &mut add),
    }
    if let Some(document) = record.source().and_then(|source| source.document.as_ref()) {
        add(document);
    }
}

fn add_joint(joint: &Joint, add: &mut impl FnMut(&str)) {
    add_texts(joint.title.iter().chain(&joint.assembly_title), add);
    add_texts(joint.prepare.iter().chain(&joint.tools).chain(&joint.together).chain(&joint.cautions), add);
    for item in &joint.renew {
        add(&item.item);
        add_texts(item.part_no.iter(), add);
    }
    add_texts(joint.check.iter().map(|item| &item.item), add);
}

fn add_fastener(fastener: &Fastener, add: &mut impl FnMut(&str)) {
    add_texts(fastener.name.iter().chain(&fastener.part_no).chain(&fastener.note).chain(&fastener.cautions), add);
    add_texts(fastener.finish.iter().chain(&fastener.lubrication), add);
    add(&fastener.thread.to_string());
    if let Some(class) = &fastener.property_class {
        add(class.as_str());
    }
    if let Some(head) = fastener.head {
        add(&head.words());
    }
    if let Some(drive) = &fastener.drive {
        add(&drive.to_string());
    }
    if let Some(locking) = fastener.locking {
        add(&locking.words());
    }
    add_texts(fastener.seat.iter().filter_map(|seat| seat.material.as_ref()), add);
    add_texts(fastener.into.iter().filter_map(|into| into.material.as_ref()), add);
}

fn add_texts<'t>(texts: impl Iterator<Item = &'t Text>, add: &mut impl FnMut(&str)) {
    texts.for_each(|text| add(text));
}

/// The words of the vocabulary that a word looked for may stand for: those that it begins; if there is none,
/// those that are one wrong, missing, doubled or swapped letter away.
#[must_use]
pub fn expanded(word: &str, vocabulary: &Vocabulary) -> Vec<String> {
    let begun: Vec<String> = vocabulary
        .range::<str, _>((std::ops::Bound::Included(word), std::ops::Bound::Unbounded))
        .take_while(|known| known.starts_with(word))
        .cloned()
        .collect();
    if !begun.is_empty() || word.chars().count() < FORGIVEN_FROM || word.chars().any(|c| c.is_ascii_digit()) {
        return begun;
    }
    vocabulary.iter().filter(|known| is_one_letter_off(word, known)).cloned().collect()
}

/// Whether two words differ in one wrong, missing or additional letter, or in two that are swapped.
fn is_one_letter_off(word: &str, known: &str) -> bool {
    if word.len().abs_diff(known.len()) > 4 {
        return false;
    }
    let (mut ours, mut theirs) = (word.chars(), known.chars());
    while let (Some(a), Some(b)) = (ours.clone().next(), theirs.clone().next())
        && a == b
    {
        ours.next();
        theirs.next();
    }
    while let (Some(a), Some(b)) = (ours.clone().next_back(), theirs.clone().next_back())
        && a == b
    {
        ours.next_back();
        theirs.next_back();
    }
    let (ours, theirs) = (ours.as_str(), theirs.as_str());
    let two = |text: &str| {
        let mut letters = text.chars();
        let two = (letters.next(), letters.next());
        letters.next().is_none().then_some(two)
    };
    match (two(ours), two(theirs)) {
        // The same word is not one letter off.
        (Some((None, _)), Some((None, _))) => false,
        (Some((_, None)), Some((_, None))) => true,
        (Some((Some(a), Some(b))), Some((Some(c), Some(d)))) => a == d && b == c,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::is_one_letter_off;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn is_what_the_distance_says(a in "[abé]{0,6}", b in "[abé]{0,6}") {
            prop_assert_eq!(is_one_letter_off(&a, &b), strsim::osa_distance(&a, &b) == 1, "{} {}", a, b);
        }
    }
}
