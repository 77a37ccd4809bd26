use crate::audit::column::{Column, Member};
use crate::audit::doubt::two_places;
use crate::audit::exchange::Exchange;
use crate::audit::finding::{Finding, Perhaps, Severity};
use crate::audit::rule::{FastenerCase, rule};
use crate::audit::slip::{COLUMN_MIN, ColumnMeant, Entry, Level, Priors, Slip, level};
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

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    if case.fastener.property_class.is_none() {
        return Vec::new();
    }
    let Some(mut column) = Column::beginning_with(case, COLUMN_MIN) else { return Vec::new() };
    // Where its two units contradict each other throughout, another rule says which they are.
    if Exchange::of(&column).is_some() {
        return Vec::new();
    }
    column.members.retain(|member| member.entry.bolted && member.entry.yield_mpa.is_some());
    if column.sizes() < COLUMN_MIN || 2 * column.sizes() < column.members.len() {
        return Vec::new();
    }
    judge(case, &column).into_iter().collect()
}

fn judge<'b>(case: &FastenerCase<'b>, column: &Column<'b>) -> Option<Finding> {
    let own = case.fastener.property_class.as_ref()?;
    let members = &column.members;
    let entries: Vec<&Entry> = members.iter().map(|member| member.entry).collect();
    let yields = || other_classes(own, members).into_iter().map(|(_, yields)| yields).collect();
    let level = level(&entries, yields, &Priors::LEARNED)?;
    let (first, column) = (members.first()?, column.words());
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
fn yields_altogether<'b>(case: &FastenerCase<'b>, members: &[Member<'b>]) -> bool {
    let yields = |member: &&Member<'b>| {
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
