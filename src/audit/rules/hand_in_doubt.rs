use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Fastener, Joint, Positions, Role};
use crate::thread::Hand;

rule! {
    /// A hand that is not stated where a thread may be left-hand, or that contradicts what is said elsewhere.
    ///
    /// # Why it matters
    /// A left-hand thread that is loosened the usual way is tightened until it breaks. Where a caution, a note or the
    /// name speaks of a left-hand thread, the record itself must say so, because the card takes the hand from there. A
    /// nut at the end of a shaft that turns left is usually left-hand: there the hand should be stated either way.
    ///
    /// # Flagged
    /// ```json
    /// { "name": "Pulley nut, left-hand", "role": "shaft-nut" }
    /// ```
    /// ```json
    /// { "hand": "right", "cautions": ["Left-hand thread"] }
    /// ```
    /// ```json
    /// { "role": "shaft-nut" }
    /// ```
    /// ```json
    /// [ { "kind": "joint", "cautions": ["Left-hand thread at position 2"] }, { "positions": "2" } ]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "name": "Pulley nut, left-hand", "hand": "left", "role": "shaft-nut" }
    /// ```
    /// ```json
    /// { "name": "Cover bolt" }
    /// ```
    /// ```json
    /// [ { "kind": "joint", "cautions": ["Left-hand thread at position 2"] }, { "positions": "1" } ]
    /// ```
    ///
    /// # Sources
    /// Common practice, no source.
    "hand-in-doubt", Fastener(check)
}

/// What people write for it.
const LEFT_HAND: [&str; 3] = ["left-hand", "left hand", "lefthand"];

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let fastener = case.fastener;
    let said = own_words(fastener).or_else(|| case.joint.and_then(|joint| words_of_joint(joint, fastener)));
    match (said, fastener.hand) {
        (Some(words), None) => {
            let message = format!("\"{words}\" speaks of a left-hand thread, but the hand is not stated");
            vec![Finding::warning("hand", message).one_of(["left"]).because_of("words", words, "the record")]
        }
        (Some(words), Some(Hand::Right)) => {
            let message = format!("\"{words}\" speaks of a left-hand thread, but the hand is stated as right");
            vec![Finding::warning("hand", message).found("right").because_of("words", words, "the record")]
        }
        (None, None) if fastener.role() == Role::ShaftNut => {
            let message = "the hand is not stated, and a nut on a shaft may be left-hand";
            vec![Finding::note("hand", message).one_of(["left", "right"])]
        }
        _ => Vec::new(),
    }
}

fn own_words(fastener: &Fastener) -> Option<&str> {
    let texts = fastener.name.iter().chain(&fastener.cautions).chain(&fastener.note);
    texts.map(|text| text.as_str()).find(|text| speaks_of_left_hand(text))
}

/// A caution of the joint that names a position of the fastener.
fn words_of_joint<'j>(joint: &'j Joint, fastener: &Fastener) -> Option<&'j str> {
    let own = fastener.positions.as_ref()?;
    let texts = joint.cautions.iter().map(|text| text.as_str());
    texts.filter(|text| speaks_of_left_hand(text)).find(|text| {
        named_positions(text).is_some_and(|named| own.iter().all(|position| named.contains(position)))
    })
}

fn speaks_of_left_hand(text: &str) -> bool {
    let text = text.to_lowercase();
    LEFT_HAND.iter().any(|words| text.contains(words)) && !text.contains("not left") && !text.contains("no left")
}

/// The positions in `Left-hand thread at position 2` or `at positions 2, 4`.
fn named_positions(text: &str) -> Option<Positions> {
    let text = text.to_lowercase();
    let (_, after) = text.split_once("position")?;
    let list: String = after.trim_start_matches('s').chars().take_while(|c| " 0123456789,-–".contains(*c)).collect();
    list.trim().trim_matches([',', '-', '–', ' ']).parse().ok()
}
