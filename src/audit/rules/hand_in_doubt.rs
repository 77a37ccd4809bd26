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
    /// nut at the end of a shaft is usually of the hand that its rotation does not loosen: there the hand should be stated
    /// either way. Where name, note, caution or the joint say that the drive end turns left, this is a `warning`, else a
    /// `note`.
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
    /// [ { "kind": "joint", "cautions": ["Drive end turns left"] }, { "role": "shaft-nut" } ]
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
    /// { "name": "Impeller nut, drive end turns left", "hand": "right", "role": "shaft-nut" }
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

/// What people write of a shaft that turns left.
const TURNS_LEFT: [&str; 8] = [
    "turns left",
    "turning left",
    "rotates left",
    "left-hand rotation",
    "left hand rotation",
    "counterclockwise",
    "counter-clockwise",
    "anticlockwise",
];

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
        (None, None) if turns_on_a_shaft(fastener) && words_of_rotation(case).is_some() => {
            let words = words_of_rotation(case).unwrap_or_default();
            let message = format!("\"{words}\": on a shaft that turns left the hand has to be stated");
            let finding = Finding::warning("hand", message).one_of(["left", "right"]);
            vec![finding.because_of("words", words, "the record or its joint")]
        }
        (None, None) if fastener.role() == Role::ShaftNut => {
            let message = "the hand is not stated, and a nut on a shaft may be left-hand";
            vec![Finding::note("hand", message).one_of(["left", "right"])]
        }
        _ => Vec::new(),
    }
}

/// Does it sit at the end of a shaft, where rotation may loosen it?
fn turns_on_a_shaft(fastener: &Fastener) -> bool {
    matches!(fastener.role(), Role::ShaftNut | Role::LockNut | Role::Bolt | Role::Nut)
}

/// What the record or its joint say of a drive end that turns left.
fn words_of_rotation<'b>(case: &FastenerCase<'b>) -> Option<&'b str> {
    let fastener = case.fastener;
    let own = fastener.name.iter().chain(&fastener.cautions).chain(&fastener.note);
    let of_joint = case.joint.into_iter().flat_map(|joint| joint.title.iter().chain(&joint.cautions));
    // What the joint says of its shaft is about the nut on it, not about every bolt of the housing.
    let of_joint = of_joint.filter(|_| matches!(fastener.role(), Role::ShaftNut | Role::LockNut));
    own.chain(of_joint).map(|text| text.as_str()).find(|text| {
        let text = text.to_lowercase();
        TURNS_LEFT.iter().any(|words| text.contains(words))
    })
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
