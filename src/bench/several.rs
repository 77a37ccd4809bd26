//! Pages about several joints: the kit, the way, the label.

use super::joint::{titles, variants_of};
use super::page::{self, Answer, Trouble, away, html, question, whole_file};
use super::picker::Picker;
use crate::card::{CardOptions, Kit, KitOptions, Label, LabelInput, Way, WayWork, WrenchRange, way_work};
use crate::catalog::{Catalog, JointView};
use crate::record::{Fault, Id, Place, Refused};
use actix_web::HttpResponse;
use actix_web::web::{Data, Query as Asked};
use askama::Template;

/// What a page about several joints is asked for.
#[derive(Debug, Clone, PartialEq, Default)]
struct Several {
    joints: Vec<Id>,
    variant: Option<String>,
    wrenches: String,
    ranges: Vec<WrenchRange>,
    with_way: bool,
    /// Words to find more joints by.
    find: String,
    /// What is written on the label besides: the day, hours or distance, and when it is next due. A day that was
    /// asked for empty is to be written in by hand.
    date: Option<String>,
    reading: Option<String>,
    next_due: Option<String>,
}

type Pairs = Asked<Vec<(String, String)>>;

impl Several {
    /// Reads the question; all faults at once.
    fn read(pairs: &[(String, String)]) -> Result<Self, Refused> {
        let mut asked = Self::default();
        let mut faults = Vec::new();
        let is_asked = |(name, value): &&(String, String)| name == "date" || !value.trim().is_empty();
        for (name, value) in pairs.iter().filter(is_asked) {
            match name.as_str() {
                "find" => asked.find = value.trim().to_owned(),
                "date" => asked.date = Some(value.trim().to_owned()),
                "joint" | "add" => asked.take_joints(value, &mut faults),
                "variant" => asked.variant = Some(value.trim().to_owned()),
                "wrenches" => asked.take_wrenches(value, &mut faults),
                "way" => asked.with_way = true,
                "reading" => asked.reading = Some(value.trim().to_owned()),
                "next_due" => asked.next_due = Some(value.trim().to_owned()),
                _ => {}
            }
        }
        if faults.is_empty() { Ok(asked) } else { Err(Refused(faults)) }
    }

    /// One id, or several parted by spaces or commas.
    fn take_joints(&mut self, value: &str, faults: &mut Vec<Fault>) {
        for text in value.split([' ', ',', ';']).filter(|text| !text.is_empty()) {
            match text.parse() {
                Ok(id) if self.joints.contains(&id) => {}
                Ok(id) => self.joints.push(id),
                Err(error) => faults.push(unreadable("joint", text, &error)),
            }
        }
    }

    fn take_wrenches(&mut self, value: &str, faults: &mut Vec<Fault>) {
        self.wrenches = value.trim().to_owned();
        for text in value.split([',', ';', '\n']).map(str::trim).filter(|text| !text.is_empty()) {
            match text.parse().map(WrenchRange::new) {
                Ok(Some(range)) => self.ranges.push(range),
                Ok(None) => faults.push(unreadable("wrenches", text, &"a wrench has a range, such as 10-60 N·m")),
                Err(error) => faults.push(unreadable("wrenches", text, &error)),
            }
        }
    }

    /// The ids of the joints in one field.
    fn ids(&self) -> String {
        self.joints.iter().map(Id::as_str).collect::<Vec<_>>().join(" ")
    }

    /// The question again, with another list of joints.
    fn question_with(&self, joints: &[Id]) -> String {
        let joints: Vec<&str> = joints.iter().map(Id::as_str).collect();
        let joints = joints.join(" ");
        let way = if self.with_way { Some("on") } else { None };
        question(&[
            ("joint", Some(&joints)),
            ("variant", self.variant.as_deref()),
            ("wrenches", Some(&self.wrenches)),
            ("way", way),
        ])
    }

    fn question(&self) -> String {
        self.question_with(&self.joints)
    }

    /// The question for another variant; for every machine if it is empty.
    fn question_for(&self, variant: &str) -> String {
        let variant = Some(variant.to_owned()).filter(|variant| !variant.is_empty());
        Self { variant, ..self.clone() }.question()
    }

    /// The question for the label as it is shown, with what is written on it.
    fn question_of_label(&self, label: &Label) -> String {
        let date = label.date.as_deref().unwrap_or(" ");
        let more =
            [("date", Some(date)), ("reading", label.reading.as_deref()), ("next_due", label.next_due.as_deref())];
        let question_ = self.question();
        let more = question(&more).replacen('?', if question_.is_empty() { "?" } else { "&" }, 1);
        question_ + &more
    }

    /// The variants that the joints and their fasteners name, each once.
    fn variants(&self, catalog: &Catalog) -> Result<Vec<String>, Trouble> {
        let mut variants = Vec::new();
        for id in self.all_joints(catalog)? {
            variants.extend(variants_of(catalog, &id)?);
        }
        variants.sort();
        variants.dedup();
        Ok(variants)
    }

    /// The day on the label: today unless another, or none, is asked for.
    fn date(&self) -> Option<String> {
        let today = || jiff::Timestamp::now().strftime("%Y-%m-%d").to_string();
        Some(self.date.clone().unwrap_or_else(today)).filter(|date| !date.is_empty())
    }

    /// The question for the joints and those on the way to them.
    fn question_on_the_way(&self) -> String {
        Self { with_way: true, ..self.clone() }.question()
    }

    /// The question without one of the joints.
    fn question_without(&self, id: &Id) -> String {
        let rest: Vec<Id> = self.joints.iter().filter(|known| *known != id).cloned().collect();
        self.question_with(&rest)
    }

    /// The joints, with those on the way to them if that is asked for.
    fn all_joints(&self, catalog: &Catalog) -> Result<Vec<Id>, Trouble> {
        if self.with_way { Ok(catalog.way(&self.joints)?.open) } else { Ok(self.joints.clone()) }
    }

    fn kit(&self, catalog: &Catalog) -> Result<(Kit, Vec<Id>), Trouble> {
        let options = KitOptions { variant: self.variant.clone(), wrenches: self.ranges.clone() };
        Ok(catalog.kit(&self.all_joints(catalog)?, &options)?)
    }
}

fn unreadable(name: &str, given: &str, error: &dyn std::fmt::Display) -> Fault {
    Fault::new("unreadable", &Place::root().below(name), error.to_string()).given(given)
}

#[derive(Template)]
#[template(path = "page_kit.html", config = "src/askama.toml")]
struct KitPage<'k> {
    asked: &'k Several,
    kit: &'k Kit,
    unknown: &'k [Id],
    faults: &'k [Fault],
    picker: Picker,
    variants: Vec<String>,
    page: &'static str,
}

/// The page of a kit.
pub async fn kit_page(catalog: Data<Catalog>, pairs: Pairs) -> Answer {
    let (asked, faults) = match Several::read(&pairs) {
        Ok(asked) => (asked, Vec::new()),
        Err(Refused(faults)) => (Several::default(), faults),
    };
    let (kit, unknown) = asked.kit(&catalog)?;
    let picker = Picker::of(&catalog, &asked.find, &asked.joints)?;
    let variants = asked.variants(&catalog)?;
    let page = "/bench/kit";
    html(&KitPage { asked: &asked, kit: &kit, unknown: &unknown, faults: &faults, picker, variants, page })
}

/// The lists of tools of a kit with their headings; those of which there is nothing are left out.
fn tool_lists(kit: &Kit) -> Vec<(&'static str, Vec<String>)> {
    let items = |tools: &[crate::card::kit::KitTool]| tools.iter().map(|tool| tool.item.clone()).collect::<Vec<_>>();
    let wrenches = kit.wrenches.iter().map(|wrench| format!("{}: set to {}", wrench.range, wrench.settings.join(", ")));
    let lists = [
        ("Sockets, keys and bits", items(&kit.drives)),
        ("Torque wrenches", wrenches.collect()),
        ("No wrench here serves", kit.unserved.clone()),
        ("Angle gauge", kit.angle_gauge.iter().map(|gauge| gauge.item.clone()).collect()),
        ("Special tools", items(&kit.special_tools)),
        ("Supplies", items(&kit.supplies)),
        ("The records do not say", kit.not_stated.clone()),
    ];
    lists.into_iter().filter(|(_, items)| !items.is_empty()).collect()
}

/// The kit as CSV.
pub async fn kit_csv(catalog: Data<Catalog>, pairs: Pairs) -> Answer {
    let (kit, _) = Several::read(&pairs)?.kit(&catalog)?;
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header(("content-disposition", "attachment; filename=\"kit.csv\""))
        .body(kit.csv()))
}

#[derive(Template)]
#[template(path = "page_way.html", config = "src/askama.toml")]
struct WayPage<'w> {
    asked: &'w Several,
    way: &'w Way,
    joints: Vec<(Id, String)>,
    work: WayWork,
    picker: Picker,
    variants: Vec<String>,
    page: &'static str,
}

/// The page of a way.
pub async fn way_page(catalog: Data<Catalog>, pairs: Pairs) -> Answer {
    let asked = Several::read(&pairs)?;
    let way = catalog.way(&asked.joints)?;
    let found = catalog.some_joints(&way.open)?;
    let records: Vec<_> = found.joints.iter().filter_map(JointView::joint_record).collect();
    let joints = titles(&catalog, &way.open)?;
    let picker = Picker::of(&catalog, &asked.find, &asked.joints)?;
    let variants = asked.variants(&catalog)?;
    let (work, page) = (way_work(&records), "/bench/way");
    html(&WayPage { asked: &asked, way: &way, joints, work, picker, variants, page })
}

/// What people call a joint of the way.
fn title_of<'j>(joints: &'j [(Id, String)], id: &Id) -> &'j str {
    joints.iter().find(|(known, _)| known == id).map_or("", |(_, title)| title.as_str())
}

/// The way with its kit and all its cards in one file to keep or to print.
pub async fn way_sheet(catalog: Data<Catalog>, pairs: Pairs) -> Answer {
    let asked = Several::read(&pairs)?;
    let options =
        CardOptions { variant: asked.variant.clone(), wrenches: asked.ranges.clone(), ..CardOptions::default() };
    let sheet = away(move || Ok(catalog.way_sheet(&asked.joints, &options, &page::now_in_words())?.html()));
    Ok(whole_file(sheet.await?))
}

#[derive(Template)]
#[template(path = "page_label.html", config = "src/askama.toml")]
struct LabelPage<'l> {
    asked: &'l Several,
    label: &'l Label,
    variants: Vec<String>,
    page: &'static str,
}

impl Several {
    /// The label for the machine, with the day of today unless another is asked for.
    fn label(&self, catalog: &Catalog) -> Result<Label, Trouble> {
        let input = LabelInput {
            date: self.date(),
            variant: self.variant.clone(),
            reading: self.reading.clone(),
            next_due: self.next_due.clone(),
        };
        Ok(catalog.label(&self.all_joints(catalog)?, &input)?)
    }
}

/// The page of a label: what stands on it, and fields for what is to be written on.
pub async fn label_page(catalog: Data<Catalog>, pairs: Pairs) -> Answer {
    let asked = Several::read(&pairs)?;
    let label = asked.label(&catalog)?;
    let variants = asked.variants(&catalog)?;
    html(&LabelPage { asked: &asked, label: &label, variants, page: "/bench/label" })
}

/// The label alone, to print. What is not given is written in by hand.
pub async fn label_file(catalog: Data<Catalog>, pairs: Pairs) -> Answer {
    Ok(whole_file(Several::read(&pairs)?.label(&catalog)?.html()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(pairs: &[(&str, &str)]) -> Result<Several, Refused> {
        let pairs: Vec<(String, String)> = pairs.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect();
        Several::read(&pairs)
    }

    #[test]
    fn joints_may_stand_in_one_field_or_in_several() {
        let asked = read(&[("joint", "a.b, a.c"), ("add", "a.d a.b"), ("variant", " x ")]).unwrap();
        assert_eq!(asked.joints.iter().map(Id::as_str).collect::<Vec<_>>(), ["a.b", "a.c", "a.d"]);
        assert_eq!(asked.question_without(&"a.c".parse().unwrap()), "?joint=a.b%20a.d&variant=x");
    }

    #[test]
    fn a_label_is_printed_as_it_is_shown() {
        let asked = read(&[("joint", "a.b"), ("date", " "), ("reading", "1240 h")]).unwrap();
        assert_eq!(asked.date(), None, "a day that was emptied is written in by hand");
        assert!(read(&[("joint", "a.b")]).unwrap().date().is_some(), "otherwise it is today");
        let label = Label { date: None, reading: Some("1240 h".to_owned()), ..Label::default() };
        let question_ = asked.question_of_label(&label);
        assert_eq!(question_, "?joint=a.b&date=%20&reading=1240%20h");
    }

    #[test]
    fn all_faults_come_at_once() {
        let Refused(faults) = read(&[("joint", "A.B a"), ("wrenches", "10-60 N·m, 40 N·m")]).unwrap_err();
        assert_eq!(faults.len(), 3);
        assert!(read(&[("wrenches", "10-60 N·m; 4-20 lbf·ft")]).unwrap().ranges.len() == 2);
    }
}
