use crate::audit::column::Column;
use crate::audit::doubt::two_places;
use crate::audit::exchange::{Exchange, Units};
use crate::audit::finding::{Finding, Perhaps};
use crate::audit::rule::{FastenerCase, rule};
use crate::audit::slip::{COLUMN_MIN, Slip};
use crate::units::Unit;

rule! {
    /// A column whose two printed units contradict each other in the same way from row to row.
    ///
    /// # Why it matters
    /// Where the headings of two columns are swapped, or one of them names another unit, no single row is a misprint: all
    /// of them are wrong by the same factor, and all of them agree as soon as the units are put right. That is one fault and
    /// not one in every row, so it is told once, at the first record of the column, with the units that it agrees in. A row
    /// that contradicts itself in those units too is told by itself (`printed-units-disagree`).
    ///
    /// # Flagged
    /// ```json
    /// [{ "thread": "M6", "stages": ["9 lbf·ft"], "source": { "printed": "9 lbf·ft (6.6 N·m)" } },
    ///  { "thread": "M8", "stages": ["22 lbf·ft"], "source": { "printed": "22 lbf·ft (16 N·m)" } },
    ///  { "thread": "M10", "stages": ["44 lbf·ft"], "source": { "printed": "44 lbf·ft (32 N·m)" } },
    ///  { "thread": "M12", "stages": ["76 lbf·ft"], "source": { "printed": "76 lbf·ft (56 N·m)" } }]
    /// ```
    /// ```json
    /// [{ "thread": "M6", "stages": ["9 N·m"], "source": { "printed": "9 N·m (80 lbf·ft)" } },
    ///  { "thread": "M8", "stages": ["22 N·m"], "source": { "printed": "22 N·m (195 lbf·ft)" } },
    ///  { "thread": "M10", "stages": ["44 N·m"], "source": { "printed": "44 N·m (390 lbf·ft)" } },
    ///  { "thread": "M12", "stages": ["76 N·m"], "source": { "printed": "76 N·m (673 lbf·ft)" } }]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [{ "thread": "M6", "stages": ["9 N·m"], "source": { "printed": "9 N·m (6.6 lbf·ft)" } },
    ///  { "thread": "M8", "stages": ["22 N·m"], "source": { "printed": "22 N·m (16 lbf·ft)" } },
    ///  { "thread": "M10", "stages": ["44 N·m"], "source": { "printed": "44 N·m (32 lbf·ft)" } },
    ///  { "thread": "M12", "stages": ["76 N·m"], "source": { "printed": "76 N·m (65 lbf·ft)" } }]
    /// ```
    ///
    /// # Sources
    /// Exact factors of the units. How often headings are swapped is judgement, no source. The values of the examples are
    /// invented.
    "whole-column-units-disagree", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let told = || {
        let column = Column::beginning_with(case, COLUMN_MIN)?;
        finding(&column, &Exchange::of(&column)?)
    };
    told().into_iter().collect()
}

fn finding(column: &Column<'_>, exchange: &Exchange) -> Option<Finding> {
    let Exchange { named, meant, agree, of } = exchange;
    let first = column.members.first()?;
    let ((stated, second), _) = *meant.first()?;
    let what = if (stated, second) == (named.1, named.0) {
        "perhaps its two units were swapped".to_owned()
    } else {
        format!("perhaps {stated} and {second} were meant")
    };
    let message = format!(
        "{} contradict their second figures in {} in the same way; in {stated} and {second} {agree} of {of} rows agree; {what}",
        column.words(),
        named.1
    );
    let mut finding = Finding::error(format!("stages[{}]", first.stage), message)
        .found(format!("{}, {}", named.0, named.1))
        .because("rows_that_agree", *agree as f64, "exact factors of the units");
    let perhaps = |((first, second), probability): &(Units, f64)| Perhaps {
        value: format!("the whole column in {}, its second figures in {}", first.symbol(), second.symbol()),
        slip: Slip::WrongUnit.name().to_owned(),
        probability: two_places(*probability),
    };
    finding.perhaps = meant.iter().take(3).map(perhaps).filter(|one| one.probability >= 0.01).collect();
    finding.sure = Some(two_places(1.0));
    Some(finding)
}
