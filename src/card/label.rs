//! A small label for the machine: what was renewed, when, and when it is next due. Date and hours are written in by
//! hand, unless they are given.

use super::kit::{JointRecords, KitOptions, kit};
use askama::Template;
use serde::Serialize;

/// What a label is made from.
#[derive(Debug, Clone, Default)]
pub struct LabelInput {
    /// The day of the work, as it is to be printed.
    pub date: Option<String>,
    /// Hours or distance at the work, with the unit.
    pub reading: Option<String>,
    /// When it is next due.
    pub next_due: Option<String>,
    /// The variant of the machine.
    pub variant: Option<String>,
}

/// A label for the machine.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, utoipa::ToSchema)]
pub struct Label {
    /// The joints that were opened, by name.
    pub joints: Vec<String>,
    /// What was renewed.
    pub renewed: Vec<String>,
    /// The day of the work.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// Hours or distance at the work.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reading: Option<String>,
    /// When it is next due.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_due: Option<String>,
    /// The ids of the joints, so that the card can be found again.
    pub ids: Vec<String>,
}

/// Makes the label for some joints.
#[must_use]
pub fn label(joints: &[JointRecords<'_>], input: &LabelInput) -> Label {
    let options = KitOptions { variant: input.variant.clone(), ..KitOptions::default() };
    let kit = kit(joints, &options);
    let renewed = kit.renew.iter().map(|part| {
        let count = part.count.map_or(String::new(), |count| format!("{count} × "));
        let part_no = part.part_no.as_ref().map_or(String::new(), |part_no| format!(" ({part_no})"));
        let fits = part.fits.as_ref().map_or(String::new(), |fits| format!(", if {fits}"));
        format!("{count}{}{part_no}{fits}", part.item)
    });
    let name =
        |joint: &super::kit::KitJoint| joint.title.as_ref().map_or_else(|| joint.id.to_string(), ToString::to_string);
    Label {
        joints: kit.joints.iter().map(name).collect(),
        renewed: renewed.collect(),
        date: input.date.clone(),
        reading: input.reading.clone(),
        next_due: input.next_due.clone(),
        ids: kit.joints.iter().map(|joint| joint.id.to_string()).collect(),
    }
}

#[derive(Template)]
#[template(path = "label.html", config = "src/askama.toml")]
struct LabelPage<'l> {
    label: &'l Label,
}

impl Label {
    /// The label as plain text; what is to be written in by hand is a line.
    #[must_use]
    pub fn plain_text(&self) -> String {
        let mut lines = vec![self.joints.join(", ")];
        if !self.renewed.is_empty() {
            lines.push("Renewed:".to_owned());
            lines.extend(self.renewed.iter().map(|item| format!("  {item}")));
        }
        lines.extend(self.lines().into_iter().map(|(name, value)| match value {
            Some(value) => format!("{name}: {value}"),
            None => format!("{name}: ____________________"),
        }));
        lines.push(self.ids.join(" "));
        lines.join("\n") + "\n"
    }

    /// What is written in, each with its name; what is not given is left to be written in by hand.
    #[must_use]
    pub fn lines(&self) -> [(&'static str, Option<&str>); 3] {
        [
            ("Date", self.date.as_deref()),
            ("Hours or distance", self.reading.as_deref()),
            ("Next due", self.next_due.as_deref()),
        ]
    }

    /// The label as one HTML file, 90 × 55 mm on paper.
    #[must_use]
    pub fn html(&self) -> String {
        // The template writes into a string and calls nothing that fails.
        LabelPage { label: self }.render().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Joint, RenewItem};

    fn joint() -> Joint {
        let item =
            RenewItem { item: "O-ring <48>".parse().unwrap(), count: Some(1), part_no: Some("SY-1".parse().unwrap()) };
        Joint {
            renew: vec![item],
            title: Some("Pump cover".parse().unwrap()),
            ..Joint::bare("a.b.cover".parse().unwrap())
        }
    }

    #[test]
    fn what_is_not_given_is_left_to_be_written_in() {
        let joint = joint();
        let joints = [JointRecords { joint: &joint, fasteners: Vec::new() }];
        let blank = label(&joints, &LabelInput::default());
        assert_eq!(
            (blank.renewed.as_slice(), blank.ids.as_slice()),
            (&["1 × O-ring <48> (SY-1)".to_owned()][..], &["a.b.cover".to_owned()][..])
        );
        let page = blank.html();
        assert_eq!(page.matches("class=\"blank\"").count(), 3);
        assert!(page.contains("O-ring &#60;48&#62;"));
        let filled = label(&joints, &LabelInput { date: Some("2026-05-01".to_owned()), ..LabelInput::default() });
        assert!(filled.html().contains("2026-05-01") && filled.html().matches("class=\"blank\"").count() == 2);
    }
}
