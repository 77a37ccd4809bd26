//! ISO 965-1:1998, tables 1 to 6: deviations, tolerances and lengths of engagement of metric threads.
//!
//! Units: µm for deviations and tolerances, mm for diameters, pitches and lengths. The tables hold grade 6;
//! the other grades follow by the standard's own rule (section 13): each grade is four steps of the R40
//! series wider than the one before. From memory, and compared cell by cell with a stored open copy of
//! tables 1 (G, g), 2, 3, 4, 5 and 6, all grades; table 1 columns e and f from memory only. The tests compare
//! every cell with the formula of section 13 that it was rounded from; where the standard rounds to a
//! neighbouring step for a smoother series, its cell stands.

/// One pitch of tables 1, 3 and 4.
pub(super) struct Pitch {
    pub pitch_mm: f64,
    /// Table 1: distance of position G above and of g below the basic profile.
    pub deviation_g_um: u16,
    /// Table 1: position f; pitches below 0.35 mm have none.
    pub deviation_f_um: Option<u16>,
    /// Table 1: position e; pitches below 0.5 mm have none.
    pub deviation_e_um: Option<u16>,
    /// Table 4: Td, major diameter of the bolt, grade 6.
    pub major_um: u16,
    /// Table 3: TD1, minor diameter of the nut, grade 6.
    pub minor_um: u16,
}

/// Diameters above the row before, up to and including this one, and one pitch, of tables 2, 5 and 6.
pub(super) struct Range {
    pub diameter_mm_max: f64,
    pub pitch_mm: f64,
    /// Table 6: Td2, pitch diameter of the bolt, grade 6.
    pub bolt_um: u16,
    /// Table 5: TD2, pitch diameter of the nut, grade 6.
    pub nut_um: u16,
    /// Table 2: a longer engagement is normal (N) and no longer short (S).
    pub engagement_mm_min: f64,
    /// Table 2: a longer engagement is long (L).
    pub engagement_mm_max: f64,
}

/// A deviation of zero is an empty cell.
const fn pitch(pitch_mm: f64, g: u16, f: u16, e: u16, major_um: u16, minor_um: u16) -> Pitch {
    const fn cell(um: u16) -> Option<u16> {
        if um == 0 { None } else { Some(um) }
    }
    Pitch { pitch_mm, deviation_g_um: g, deviation_f_um: cell(f), deviation_e_um: cell(e), major_um, minor_um }
}

const fn row(diameter_mm_max: f64, pitch_mm: f64, bolt_um: u16, nut_um: u16, min: f64, max: f64) -> Range {
    Range { diameter_mm_max, pitch_mm, bolt_um, nut_um, engagement_mm_min: min, engagement_mm_max: max }
}

/// The smallest diameter of tables 2, 5 and 6, exclusive.
pub(super) const DIAMETER_MM_MIN: f64 = 0.99;

/// ISO 965-1:1998, tables 1, 3 and 4. The grade 6 of TD1 at 0.2 and 0.25 mm is not in the table: it is the
/// step from which grades 4 and 5 follow.
#[rustfmt::skip]
pub(super) const PITCHES: &[Pitch] = &[
    //    P   G,g   f   e  Td6 TD1-6
    pitch(0.2, 17, 0, 0, 56, 60),
    pitch(0.25, 18, 0, 0, 67, 71),
    pitch(0.3, 18, 0, 0, 75, 85),
    pitch(0.35, 19, 34, 0, 85, 100),
    pitch(0.4, 19, 34, 0, 95, 112),
    pitch(0.45, 20, 35, 0, 100, 125),
    pitch(0.5, 20, 36, 50, 106, 140),
    pitch(0.6, 21, 36, 53, 125, 160),
    pitch(0.7, 22, 38, 56, 140, 180),
    pitch(0.75, 22, 38, 56, 140, 190),
    pitch(0.8, 24, 38, 60, 150, 200),
    pitch(1.0, 26, 40, 60, 180, 236),
    pitch(1.25, 28, 42, 63, 212, 265),
    pitch(1.5, 32, 45, 67, 236, 300),
    pitch(1.75, 34, 48, 71, 265, 335),
    pitch(2.0, 38, 52, 71, 280, 375),
    pitch(2.5, 42, 58, 80, 335, 450),
    pitch(3.0, 48, 63, 85, 375, 500),
    pitch(3.5, 53, 70, 90, 425, 560),
    pitch(4.0, 60, 75, 95, 475, 600),
    pitch(4.5, 63, 80, 100, 500, 670),
    pitch(5.0, 71, 85, 106, 530, 710),
    pitch(5.5, 75, 90, 112, 560, 750),
    pitch(6.0, 80, 95, 118, 600, 800),
    pitch(8.0, 100, 118, 140, 710, 1000),
];

/// ISO 965-1:1998, tables 2, 5 and 6. The grade 6 of TD2 at 0.2 and 0.25 mm is not in the table: it is the
/// step from which grades 4 and 5 follow.
#[rustfmt::skip]
pub(super) const RANGES: &[Range] = &[
    //   to    P   Td2 TD2   S    L
    row(1.4, 0.2, 48, 63, 0.5, 1.4),
    row(1.4, 0.25, 53, 71, 0.6, 1.7),
    row(1.4, 0.3, 56, 75, 0.7, 2.0),
    row(2.8, 0.2, 50, 67, 0.5, 1.5),
    row(2.8, 0.25, 56, 75, 0.6, 1.9),
    row(2.8, 0.35, 63, 85, 0.8, 2.6),
    row(2.8, 0.4, 67, 90, 1.0, 3.0),
    row(2.8, 0.45, 71, 95, 1.3, 3.8),
    row(5.6, 0.35, 67, 90, 1.0, 3.0),
    row(5.6, 0.5, 75, 100, 1.5, 4.5),
    row(5.6, 0.6, 85, 112, 1.7, 5.0),
    row(5.6, 0.7, 90, 118, 2.0, 6.0),
    row(5.6, 0.75, 90, 118, 2.2, 6.7),
    row(5.6, 0.8, 95, 125, 2.5, 7.5),
    row(11.2, 0.75, 100, 132, 2.4, 7.1),
    row(11.2, 1.0, 112, 150, 3.0, 9.0),
    row(11.2, 1.25, 118, 160, 4.0, 12.0),
    row(11.2, 1.5, 132, 180, 5.0, 15.0),
    row(22.4, 1.0, 118, 160, 3.8, 11.0),
    row(22.4, 1.25, 132, 180, 4.5, 13.0),
    row(22.4, 1.5, 140, 190, 5.6, 16.0),
    row(22.4, 1.75, 150, 200, 6.0, 18.0),
    row(22.4, 2.0, 160, 212, 8.0, 24.0),
    row(22.4, 2.5, 170, 224, 10.0, 30.0),
    row(45.0, 1.0, 125, 170, 4.0, 12.0),
    row(45.0, 1.5, 150, 200, 6.3, 19.0),
    row(45.0, 2.0, 170, 224, 8.5, 25.0),
    row(45.0, 3.0, 200, 265, 12.0, 36.0),
    row(45.0, 3.5, 212, 280, 15.0, 45.0),
    row(45.0, 4.0, 224, 300, 18.0, 53.0),
    row(45.0, 4.5, 236, 315, 21.0, 63.0),
    row(90.0, 1.5, 160, 212, 7.5, 22.0),
    row(90.0, 2.0, 180, 236, 9.5, 28.0),
    row(90.0, 3.0, 212, 280, 15.0, 45.0),
    row(90.0, 4.0, 236, 315, 19.0, 56.0),
    row(90.0, 5.0, 250, 335, 24.0, 71.0),
    row(90.0, 5.5, 265, 355, 28.0, 85.0),
    row(90.0, 6.0, 280, 375, 32.0, 95.0),
    row(180.0, 2.0, 190, 250, 12.0, 36.0),
    row(180.0, 3.0, 224, 300, 18.0, 53.0),
    row(180.0, 4.0, 250, 335, 24.0, 71.0),
    row(180.0, 6.0, 300, 400, 36.0, 106.0),
    row(180.0, 8.0, 335, 450, 45.0, 132.0),
    row(355.0, 3.0, 250, 335, 20.0, 60.0),
    row(355.0, 4.0, 280, 375, 26.0, 80.0),
    row(355.0, 6.0, 315, 425, 40.0, 118.0),
    row(355.0, 8.0, 355, 475, 50.0, 150.0),
];
