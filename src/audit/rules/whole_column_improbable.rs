use crate::audit::doubt::two_places;
use crate::audit::finding::{Finding, Perhaps, Severity};
use crate::audit::rule::{FastenerCase, rule};
use crate::audit::slip::{COLUMN_MIN, ColumnMeant, Entry, Level, Part, Priors, Slip, level};
use crate::record::{Fastener, Source, Text};
use crate::standards::{PropertyClass, strength};
use crate::units::Length;

rule! {
    /// A whole column of torques that lies where no table of its class does.
    ///
    /// # Why it matters
    /// Read under the heading of the column beside it, every value of a column is wrong by the same factor: pound-feet
    /// taken in as pound-inches, the column of another class, a point moved everywhere. The values stand in line with each
    /// other, so none of them is conspicuous by itself. What gives them away is how far they load their bolts: general
    /// tables lie at 0.6 to 1.4 of the torque for 90 % of the yield strength.
    ///
    /// The finding is told once, at the first record of the column, with the probability of each meaning; so is a column
    /// that takes its bolts beyond yield even at the highest friction that is to be expected. Newton-metres taken for
    /// pound-feet (a factor of 1.36) and neighbouring classes lie within what tables of dry and of oiled bolts differ by:
    /// those cannot be told apart by the level alone.
    ///
    /// # Flagged
    /// ```json
    /// [{ "thread": "M6", "property_class": "8.8", "lubrication": "oiled", "stages": ["9 kgf·m"] },
    ///  { "thread": "M8", "property_class": "8.8", "lubrication": "oiled", "stages": ["22 kgf·m"] },
    ///  { "thread": "M10", "property_class": "8.8", "lubrication": "oiled", "stages": ["44 kgf·m"] },
    ///  { "thread": "M12", "property_class": "8.8", "lubrication": "oiled", "stages": ["76 kgf·m"] },
    ///  { "thread": "M16", "property_class": "8.8", "lubrication": "oiled", "stages": ["190 kgf·m"] }]
    /// ```
    /// ```json
    /// [{ "thread": "M6", "property_class": "10.9", "lubrication": "oiled", "stages": ["3.3 N·m"] },
    ///  { "thread": "M8", "property_class": "10.9", "lubrication": "oiled", "stages": ["8.2 N·m"] },
    ///  { "thread": "M10", "property_class": "10.9", "lubrication": "oiled", "stages": ["16 N·m"] },
    ///  { "thread": "M12", "property_class": "10.9", "lubrication": "oiled", "stages": ["28 N·m"] },
    ///  { "thread": "M16", "property_class": "10.9", "lubrication": "oiled", "stages": ["70 N·m"] }]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [{ "thread": "M6", "property_class": "8.8", "lubrication": "oiled", "stages": ["9 N·m"] },
    ///  { "thread": "M8", "property_class": "8.8", "lubrication": "oiled", "stages": ["22 N·m"] },
    ///  { "thread": "M10", "property_class": "8.8", "lubrication": "oiled", "stages": ["44 N·m"] },
    ///  { "thread": "M12", "property_class": "8.8", "lubrication": "oiled", "stages": ["76 N·m"] },
    ///  { "thread": "M16", "property_class": "8.8", "lubrication": "oiled", "stages": ["190 N·m"] }]
    /// ```
    /// ```json
    /// [{ "thread": "M6", "property_class": "8.8", "lubrication": "dry", "stages": ["12 N·m"] },
    ///  { "thread": "M8", "property_class": "8.8", "lubrication": "dry", "stages": ["29 N·m"] },
    ///  { "thread": "M10", "property_class": "8.8", "lubrication": "dry", "stages": ["58 N·m"] },
    ///  { "thread": "M12", "property_class": "8.8", "lubrication": "dry", "stages": ["100 N·m"] }]
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1, 5.4.3 for the torque at 90 % of yield; how far tables load their bolts was learned from government
    /// manuals. How often a whole column is taken in wrongly is judgement, no source. The values of the examples are
    /// invented.
    "whole-column-improbable", Fastener(check)
}

/// Near certain to be wrong, more likely wrong than right, worth a second look.
const SEVERITIES: [(f64, Severity); 3] = [(0.95, Severity::Error), (0.5, Severity::Warning), (0.3, Severity::Note)];
/// Real bolts are up to so much stronger than their class demands (common practice, no source).
const STRONGEST: f64 = 1.15;
/// Larger joints are looked through up to here.
const JOINT_MAX: usize = 400;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let beside = case.book.fasteners_of(&case.fastener.joint);
    if beside.len() < COLUMN_MIN || case.fastener.property_class.is_none() {
        return Vec::new();
    }
    let mut column = beside.iter().copied().take(JOINT_MAX).filter(|other| is_of_column(case.fastener, other)).peekable();
    // The first of the column speaks for all.
    if column.peek().is_none_or(|first| first.id != case.fastener.id) {
        return Vec::new();
    }
    let members: Vec<Member<'_>> = column.filter_map(|fastener| member(case, fastener)).collect();
    let sizes: std::collections::BTreeSet<_> = members.iter().map(|member| member.fastener.thread.size_key()).collect();
    if sizes.len() < COLUMN_MIN || 2 * sizes.len() < members.len() {
        return Vec::new();
    }
    judge(case, &members).into_iter().collect()
}

/// A fastener of the column with the torque that it is left at.
struct Member<'b> {
    fastener: &'b Fastener,
    stage: usize,
    entry: &'b Entry,
}

fn member<'b>(case: &FastenerCase<'b>, fastener: &'b Fastener) -> Option<Member<'b>> {
    let mut torques = case.book.torques().of_fastener(fastener.id.as_str());
    let last = torques.find(|torque| torque.entry.part == Part::Final)?;
    let known = last.entry.bolted && last.entry.yield_mpa.is_some();
    known.then_some(Member { fastener, stage: last.stage, entry: last.entry })
}

/// Whether two fasteners of a joint stand in one column: the same class and condition, read from the same page.
fn is_of_column(one: &Fastener, other: &Fastener) -> bool {
    one.property_class == other.property_class
        && one.role() == other.role()
        && one.finish == other.finish
        && one.lubrication == other.lubrication
        && one.friction == other.friction
        && material(one) == material(other)
        && is_same_page(one.source.as_ref(), other.source.as_ref())
}

fn material(fastener: &Fastener) -> Option<&Text> {
    fastener.into.as_ref()?.material.as_ref()
}

fn is_same_page(one: Option<&Source>, other: Option<&Source>) -> bool {
    fn place(source: Option<&Source>) -> Option<(&Text, Option<&Text>, Option<&Text>)> {
        let source = source?;
        Some((source.document.as_ref()?, source.edition.as_ref(), source.page.as_ref()))
    }
    place(one) == place(other)
}

fn judge(case: &FastenerCase<'_>, members: &[Member<'_>]) -> Option<Finding> {
    let own = case.fastener.property_class.as_ref()?;
    let entries: Vec<&Entry> = members.iter().map(|member| member.entry).collect();
    let yields = || other_classes(own, members).into_iter().map(|(_, yields)| yields).collect();
    let level = level(&entries, yields, &Priors::LEARNED)?;
    let (first, last) = (&members[0], members.last()?);
    let column = format!(
        "the {} torques of this column, {} for {} to {} for {},",
        members.len(),
        first.entry.stated,
        first.fastener.thread,
        last.entry.stated,
        last.fastener.thread
    );
    let severity = SEVERITIES.iter().find(|(least, _)| level.wrong >= *least).map(|(_, severity)| *severity);
    let field = format!("stages[{}]", first.stage);
    let finding = match severity {
        Some(severity) => improbable(severity, field, &column, &level, &other_classes(own, members)),
        None if level.share > 1.0 && yields_altogether(case, members) => {
            let message = format!("{column} take their bolts beyond yield even at the highest friction to be expected");
            Finding::warning(field, message)
        }
        None => return None,
    };
    Some(finding.found(first.entry.stated).because("share_of_full_torque", level.share, SOURCE))
}

const SOURCE: &str = "VDI 2230-1:2015, 5.4.3, for 90 % of the yield strength at friction 0.12";

fn improbable(
    severity: Severity,
    field: String,
    column: &str,
    level: &Level,
    classes: &[(PropertyClass, Vec<f64>)],
) -> Finding {
    let named = |(meant, probability): &(ColumnMeant, f64)| {
        let (value, slip) = match meant {
            ColumnMeant::Unit(unit) => (format!("the whole column in {}", crate::units::Unit::symbol(*unit)), Slip::WrongUnit),
            ColumnMeant::PointMoved(slip) => {
                let factor = if *slip == Slip::PointLost { "a tenth" } else { "ten times" };
                (format!("{factor} of every value"), *slip)
            }
            ColumnMeant::Class(place) => (format!("the column of class {}", classes[*place].0), Slip::NextClass),
        };
        Perhaps { value, slip: slip.name().to_owned(), probability: two_places(*probability) }
    };
    let perhaps: Vec<Perhaps> = level.meant.iter().take(3).map(named).filter(|one| one.probability >= 0.01).collect();
    let meant = perhaps.first().map_or(String::new(), |first| format!("; perhaps {} was meant", first.value));
    let message =
        format!("{column} load their bolts {:.2} times as much as tables do for their class{meant}", level.share);
    let mut finding = Finding::new(severity, field, message);
    finding.perhaps = perhaps;
    finding.sure = Some(two_places(level.wrong));
    finding
}

/// Whether most of the column yields the strongest bolts even at the highest friction.
fn yields_altogether(case: &FastenerCase<'_>, members: &[Member<'_>]) -> bool {
    let yields = |member: &&Member<'_>| {
        let own = FastenerCase::new(member.fastener, case.book);
        let torque = member.fastener.stages.get(member.stage).and_then(|stage| stage.torque());
        let assessment = own.assessment().ok();
        assessment.zip(torque).is_some_and(|(known, torque)| known.utilisation(torque.middle()).highest >= STRONGEST)
    };
    2 * members.iter().filter(yields).count() > members.len()
}

/// The other classes of the same standard that are made in all sizes of the column, with their yield strengths.
fn other_classes(own: &PropertyClass, members: &[Member<'_>]) -> Vec<(PropertyClass, Vec<f64>)> {
    let alike = PropertyClass::known().into_iter().filter(|class| class != own && class.standard() == own.standard());
    let yields = |class: PropertyClass| {
        let yields = members.iter().map(|member| {
            let diameter = Length::from_millimeters(member.entry.size?.diameter_mm);
            Some(strength(&class, diameter).ok()?.yield_.megapascals())
        });
        Some((class.clone(), yields.collect::<Option<Vec<f64>>>()?))
    };
    alike.filter_map(yields).collect()
}
