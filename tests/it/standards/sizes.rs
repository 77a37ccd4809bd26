//! Heads, drives and holes.

use super::{Row, mm, rows, same};
use clampbook::standards::{HeadForm, HeadSize, Tool, heads, hexalobular_drive, holes, table};
use clampbook::units::Length;

/// The head of a standard in the size of a row.
fn of(row: &Row, standard: &str) -> Option<HeadSize> {
    heads(mm(row.number("d_mm"))).into_iter().find(|head| head.source.standard == standard)
}

#[track_caller]
fn check(row: &Row, column: &str, found: Option<f64>) {
    let Some(published) = row.maybe(column) else { return };
    let name = format!("{} {column}", row.text("designation"));
    same(&name, found.unwrap_or_else(|| panic!("{name}: no value")), published);
}

fn in_mm(length: Option<Length>) -> Option<f64> {
    length.map(Length::millimeters)
}

fn flats(head: Option<HeadSize>) -> Option<f64> {
    in_mm(head.and_then(|head| head.tool.across_flats()))
}

/// Every column of every row; the sizes of DIN 912 that ISO 4762 has not stand in the same columns of the file.
#[test]
fn heads_by_thread_size() {
    for row in rows(include_str!("../published/head_geometry.csv"), 23) {
        let hexagon = of(&row, "ISO 4014");
        check(&row, "s_hex_ISO4014_4017_mm", flats(hexagon));
        check(&row, "dw_min_ISO4014_mm", in_mm(hexagon.and_then(|head| head.bearing_diameter)));
        check(&row, "k_ISO4014_mm", in_mm(hexagon.and_then(|head| head.height)));
        check(&row, "s_hex_DIN931_933_mm", flats(of(&row, "DIN 931")));
        check(&row, "s_nut_ISO4032_mm", flats(of(&row, "ISO 4032")));
        let socket = of(&row, "ISO 4762").or(of(&row, "DIN 912"));
        check(&row, "dk_max_ISO4762_mm", in_mm(socket.and_then(|head| head.head_diameter)));
        check(&row, "key_ISO4762_mm", flats(socket));
        check(&row, "dw_min_ISO4762_mm", in_mm(socket.and_then(|head| head.bearing_diameter)));
        check(&row, "key_ISO7380_mm", flats(of(&row, "ISO 7380-1")));
        check(&row, "key_ISO10642_mm", flats(of(&row, "ISO 10642")));
        for (column, standard) in [("s_flange_small_ISO4162_mm", "ISO 4162"), ("s_flange_EN1665_mm", "EN 1665")] {
            check(&row, column, flats(of(&row, standard)));
        }
        for (column, standard) in [("dw_min_ISO4162_mm", "ISO 4162"), ("dw_min_EN1665_mm", "EN 1665")] {
            check(&row, column, in_mm(of(&row, standard).and_then(|head| head.bearing_diameter)));
        }
        let drives = [("drive_ISO14579", "ISO 14579", "T"), ("drive_ISO14583_pan", "ISO 14583", "T")];
        for (column, standard, letter) in drives.into_iter().chain([("cross_recess_ISO7045", "ISO 7045", "recess ")]) {
            let published = row.text(column).trim_start_matches('T');
            if !published.is_empty() {
                let tool = of(&row, standard).expect(column).tool;
                assert_eq!(tool.to_string(), format!("{letter}{published}"), "{} {column}", row.text("designation"));
            }
        }
    }
}

/// ISO 273: every hole of every row.
#[test]
fn clearance_holes() {
    for row in rows(include_str!("../published/head_geometry.csv"), 23) {
        let name = row.text("designation");
        let found = holes(mm(row.number("d_mm"))).expect(name);
        check(&row, "dh_fine_ISO273_mm", Some(found.fine.millimeters()));
        check(&row, "dh_medium_ISO273_mm", Some(found.medium.millimeters()));
        check(&row, "dh_coarse_ISO273_mm", Some(found.coarse.millimeters()));
    }
}

/// ISO 10664: `A` exactly, and both of the values of `B` on which the sources disagree.
#[test]
fn hexalobular_numbers() {
    let printed = table("iso-10664").expect("the table of sockets");
    for row in rows(include_str!("../published/hexalobular_drives.csv"), 8) {
        let drive = row.text("drive");
        let found = hexalobular_drive(drive).expect(drive);
        same(drive, found.across_lobes.millimeters(), row.number("A_nominal_mm"));
        let cells = &printed.rows.iter().find(|cells| cells.cells[0].to_string() == drive).expect(drive).cells;
        for (cell, column) in cells[2..4].iter().zip(["B_bd_warehouse_mm", "B_FastenersWB_mm"]) {
            same(drive, cell.to_string().parse().expect("a number"), row.number(column));
        }
    }
}

/// Every socket number that a head table names is one of ISO 10664, so that the bit can be found.
#[test]
fn drives_of_heads_exist() {
    let mut compared = 0;
    for tenth in 10..=640 {
        for head in heads(mm(f64::from(tenth) / 10.0)) {
            if let Tool::Hexalobular(number) = head.tool {
                let drive = hexalobular_drive(&format!("T{number}")).expect("a drive of that number");
                assert_eq!(drive.source.standard, "ISO 10664");
                let outer = head.head_diameter.expect("a head diameter");
                assert!(drive.across_lobes < outer, "{} {:?}", head.size, head.form);
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 13 + 9, "heads of ISO 14579 and ISO 14583");
}

/// ASME B18.2.1 across flats of hexagon cap screws as any wrench set has them (from memory).
#[test]
fn inch_wrenches() {
    let sizes = [
        (0.25, "7/16 in"),
        (0.3125, "1/2 in"),
        (0.375, "9/16 in"),
        (0.4375, "5/8 in"),
        (0.5, "3/4 in"),
        (1.0, "1 1/2 in"),
    ];
    for (inches, flats) in sizes {
        let all = heads(mm(inches * 25.4));
        let hexagon = all.iter().find(|head| head.form == HeadForm::Hexagon).expect("a hexagon");
        assert_eq!(hexagon.tool.to_string(), flats);
    }
}
