//! How true the audit's word about numbers is, measured on published tables and on made slips.
//!
//! `cargo bench --bench audit_truth` prints real misprints and false alarms, made slips, calibration, every source judged
//! by priors learned without it, and the same on tables that the audit was not made with (`-- made`, `-- unseen` and
//! `-- swapped` for parts alone). `cargo bench --bench audit_truth -- learn` prints the priors learned from all tables, for
//! `src/audit/slip/priors.rs`. Counts are printed, never a bare percentage.

mod columns;
mod corpus;
mod dice;
mod made;
mod measure;
mod published;
mod seed;
mod seed_slips;
mod synthetic;
mod tally;
mod unseen;
mod variants;

use clampbook::audit::slip::{Priors, learn};
use std::process::ExitCode;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    match words.first().map(String::as_str) {
        None => report(),
        Some("made") => made::report(&corpus::tables(), &measure::folds(&corpus::tables())),
        Some("unseen") => {
            variants::report();
            columns::report();
        }
        Some("swapped") => columns::swapped(),
        Some("learn") => println!("{:#?}", learned()),
        Some(other) => {
            eprintln!(
                "\"{other}\" is not a part of this measurement; write learn, made, unseen, swapped, or nothing for the whole report"
            );
            return ExitCode::from(2);
        }
    }
    ExitCode::SUCCESS
}

/// The priors that all right rows of the tables teach.
fn learned() -> Priors {
    let tables = corpus::tables();
    let right = tables.iter().filter(|row| row.misprint.is_none());
    learn(&corpus::entries(right))
}

fn report() {
    let (tables, joints) = (corpus::tables(), corpus::joints());
    println!("Sources: {}", sources_line(&tables, &joints));
    published::report(&tables, &joints);
    let folds = measure::folds(&tables);
    made::report(&tables, &folds);
    seed::report();
    variants::report();
    columns::report();
}

/// What was measured on.
fn sources_line(tables: &[corpus::Published], joints: &[corpus::Published]) -> String {
    let count =
        |set: &[corpus::Published]| set.iter().map(|row| &row.source).collect::<std::collections::BTreeSet<_>>().len();
    format!(
        "{} rows of general tables from {} documents (tests/it/corpus/sources.csv), {} values of particular joints from \
         {} documents (joints_sources.csv), the demo yard (seed/)",
        tables.len(),
        count(tables),
        joints.len(),
        count(joints)
    )
}
