//! What a rule is: a name, a page for people, and a pure function.

use super::assessment::{Assessment, Unjudged};
use super::book::{Book, JOINT_MAX};
use super::finding::Finding;
use super::memo::{Assessed, assessed};
use crate::record::{Fastener, Joint, Record};
use crate::tightening::{AngleAnswer, Tightening, TighteningRequest, tightening, turned};
use std::cell::OnceCell;

/// One rule of the audit.
#[derive(Debug)]
pub struct Rule {
    /// Its name, which is the name of its file: what it flags.
    pub name: &'static str,
    pub(super) doc_comment: &'static str,
    pub(super) check: Check,
}

/// What a rule looks at.
#[derive(Debug, Clone, Copy)]
pub(super) enum Check {
    /// One fastener and its surroundings.
    Fastener(fn(&FastenerCase<'_>) -> Vec<Finding>),
    /// One joint and its fasteners.
    Joint(fn(&JointCase<'_>) -> Vec<Finding>),
    /// A record and what all other rules said about it.
    Outcome(fn(&Record, &[Finding]) -> Vec<Finding>),
}

/// A fastener with what stands around it.
#[derive(Debug)]
pub struct FastenerCase<'b> {
    /// The fastener.
    pub fastener: &'b Fastener,
    /// Its joint, if the book has it.
    pub joint: Option<&'b Joint>,
    /// The book.
    pub book: &'b Book<'b>,
    assessment: OnceCell<Assessed>,
    tightening: OnceCell<Option<Tightening>>,
    turned: OnceCell<Option<AngleAnswer>>,
}

impl<'b> FastenerCase<'b> {
    /// A fastener of a book.
    #[must_use]
    pub fn new(fastener: &'b Fastener, book: &'b Book<'b>) -> Self {
        Self {
            fastener,
            joint: book.joint(&fastener.joint),
            book,
            assessment: OnceCell::new(),
            tightening: OnceCell::new(),
            turned: OnceCell::new(),
        }
    }

    /// What can be said about the strength of the fastener, or why nothing can. Worked out once.
    ///
    /// # Errors
    /// Why nothing can be said.
    pub fn assessment(&self) -> Result<&Assessment, &Unjudged> {
        self.assessment.get_or_init(|| assessed(self.fastener)).as_ref().as_ref()
    }

    /// The other fasteners of the joint with the same thread, class and role; of very many the first ones.
    pub fn alike_in_joint(&self) -> impl Iterator<Item = &'b Fastener> + '_ {
        let fastener = self.fastener;
        self.book.with_thread_in_joint(fastener).iter().take(JOINT_MAX).copied().filter(move |other| {
            other.id != fastener.id
                && other.property_class == fastener.property_class
                && other.role() == fastener.role()
        })
    }

    /// What the turns after the last torque come to; `None` where there are none, or where the bolt's strength does not
    /// limit it or is not known. Dearer than [`Self::assessment`]; worked out once.
    ///
    /// A bolt whose grip is stated is taken as threaded up to its head: a record does not say how far the thread
    /// reaches, and this is how a turn stretches it least.
    pub fn turned(&self) -> Option<&AngleAnswer> {
        self.assessment().ok()?;
        let answer = || turned(&least_stretched(self.fastener)?).ok()?;
        self.turned.get_or_init(answer).as_ref()
    }

    /// What the last torque and the turns after it come to, with all that hangs on it. Dearer still; worked out once.
    pub fn tightening(&self) -> Option<&Tightening> {
        self.assessment().ok()?;
        let answer = || tightening(&least_stretched(self.fastener)?).ok();
        self.tightening.get_or_init(answer).as_ref()
    }
}

fn least_stretched(fastener: &Fastener) -> Option<TighteningRequest> {
    let mut request = TighteningRequest::of_fastener(fastener)?;
    if request.grip.is_some() {
        request.length = None;
    }
    Some(request)
}

/// A joint with what closes it.
#[derive(Debug)]
pub struct JointCase<'b> {
    /// The joint.
    pub joint: &'b Joint,
    /// Its fasteners.
    pub fasteners: &'b [&'b Fastener],
    /// The book.
    pub book: &'b Book<'b>,
}

impl Rule {
    /// Its page: one sentence, then *Why it matters*, *Flagged*, *Accepted*, *Sources*, as Markdown.
    #[must_use]
    pub fn page(&self) -> String {
        let lines = self.doc_comment.lines().map(|line| line.strip_prefix(' ').unwrap_or(line));
        lines.collect::<Vec<_>>().join("\n").trim().to_owned()
    }

    /// The first sentence of the page.
    #[must_use]
    pub fn summary(&self) -> String {
        let page = self.page();
        page.split("\n\n").next().unwrap_or_default().replace('\n', " ").trim().to_owned()
    }

    /// The text below a heading of the page.
    #[must_use]
    pub fn section(&self, heading: &str) -> Option<String> {
        let page = self.page();
        let (_, rest) = page.split_once(&format!("\n# {heading}\n"))?;
        Some(rest.split("\n# ").next().unwrap_or(rest).trim().to_owned())
    }
}

/// Declares the rule of a file. The doc comment is its page.
macro_rules! rule {
    ($(#[doc = $line:literal])* $name:literal, $kind:ident($check:path)) => {
        $(#[doc = $line])*
        pub static RULE: $crate::audit::rule::Rule = $crate::audit::rule::Rule {
            name: $name,
            doc_comment: concat!($($line, "\n"),*),
            check: $crate::audit::rule::Check::$kind($check),
        };
    };
}
pub(super) use rule;
