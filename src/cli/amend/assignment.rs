//! `FIELD=VALUE` and `FIELD+=VALUE`: what to change in a record.

use crate::catalog::cell_value;
use crate::cli::failure::Failure;
use crate::record::Kind;
use serde_json::{Map, Value, json};

/// One change of a record.
#[derive(Debug, Clone, PartialEq)]
pub struct Assignment {
    path: Vec<String>,
    adds: bool,
    value: Given,
}

/// A value as it was given.
#[derive(Debug, Clone, PartialEq)]
enum Given {
    /// Nothing: the field is taken away.
    Nothing,
    /// Text, in the form of a cell of CSV.
    Text(String),
    /// JSON.
    Json(Value),
}

impl Assignment {
    /// Reads `FIELD=VALUE` or `FIELD+=VALUE`.
    ///
    /// # Errors
    /// If there is no `=`, no field, or the value is broken JSON.
    pub fn read(text: &str) -> Result<Self, Failure> {
        let refused = |reason: &str| Failure::usage(format!("\"{text}\" {reason}"));
        let (field, value) = text.split_once('=').ok_or_else(|| {
            refused("has no =. Write FIELD=VALUE, such as source.page=41; FIELD= takes the field away")
        })?;
        let (field, adds) = field.strip_suffix('+').map_or((field, false), |field| (field, true));
        let path: Vec<String> = field
            .split(['.', '[', ']'])
            .map(str::trim)
            .filter(|segment| !segment.is_empty())
            .map(str::to_owned)
            .collect();
        if path.is_empty() {
            return Err(refused("names no field before the ="));
        }
        let value = match value.trim() {
            "" if adds => return Err(refused("adds nothing. Write what to add after +=")),
            "" => Given::Nothing,
            json if json.starts_with(['{', '[', '"']) => {
                let read = crate::record::read_json(json.as_bytes());
                Given::Json(read.map_err(|crate::record::Refused(faults)| {
                    refused(
                        &faults
                            .first()
                            .map(|fault| format!("has a value that {}", fault.detail.trim_start_matches("this ")))
                            .unwrap_or_default(),
                    )
                })?)
            }
            text => Given::Text(text.to_owned()),
        };
        Ok(Self { path, adds, value })
    }

    /// The acceptance of a rule's findings.
    #[must_use]
    pub fn accept(rule: &str, reason: &str) -> Self {
        let value = Given::Json(json!({ "rule": rule, "reason": reason }));
        Self { path: vec!["accepted".to_owned()], adds: true, value }
    }

    /// The place that it changes, as a JSON pointer.
    #[must_use]
    pub fn pointer(&self) -> String {
        self.path.iter().map(|segment| format!("/{segment}")).collect()
    }

    /// Whether the value was given as text that could be a number or a truth.
    #[must_use]
    pub fn may_be_number(&self) -> bool {
        matches!(&self.value, Given::Text(text) if scalar(text).is_some())
    }

    /// Changes the members of a record.
    ///
    /// # Errors
    /// If the path leads nowhere.
    pub fn apply(&self, members: &mut Map<String, Value>, kind: &str, as_number: bool) -> Result<(), Failure> {
        let kind = if kind == "joint" { Kind::Joint } else { Kind::Fastener };
        let value = self.value_for(kind, as_number);
        let mut root = Value::Object(std::mem::take(members));
        let done = self.place(&mut root, value);
        if let Value::Object(changed) = root {
            *members = changed;
        }
        done
    }

    fn value_for(&self, kind: Kind, as_number: bool) -> Option<Value> {
        match &self.value {
            Given::Nothing => None,
            Given::Json(value) => Some(value.clone()),
            Given::Text(text) if as_number => scalar(text),
            Given::Text(text) => {
                let text = if self.path == ["stages"] { text.replace('→', "|") } else { text.clone() };
                cell_value(&self.path.join("."), kind, &text).or(Some(Value::String(text)))
            }
        }
    }

    fn place(&self, root: &mut Value, value: Option<Value>) -> Result<(), Failure> {
        let (last, above) = self.path.split_last().unwrap_or_else(|| unreachable!("a path has a segment"));
        let mut here = root;
        for segment in above {
            here = self.step(here, segment)?;
        }
        match value {
            None => self.take_away(here, last),
            Some(value) if self.adds => {
                let list = match here {
                    Value::Object(members) => members.entry(last.as_str()).or_insert_with(|| json!([])),
                    other => self.step(other, last)?,
                };
                self.add(list, value)
            }
            Some(value) => {
                match here {
                    Value::Object(members) => {
                        members.insert(last.clone(), value);
                    }
                    other => *self.step(other, last)? = value,
                }
                Ok(())
            }
        }
    }

    fn step<'v>(&self, here: &'v mut Value, segment: &str) -> Result<&'v mut Value, Failure> {
        match here {
            Value::Object(members) => Ok(members.entry(segment).or_insert_with(|| json!({}))),
            Value::Array(items) => {
                let count = items.len();
                let index = segment.parse::<usize>().ok().filter(|index| *index < count);
                let index = index.ok_or_else(|| {
                    self.nowhere(segment, &format!("the list has entries 0 to {}", count.saturating_sub(1)))
                })?;
                Ok(&mut items[index])
            }
            _ => Err(self.nowhere(segment, "there are no fields below it")),
        }
    }

    fn take_away(&self, here: &mut Value, last: &str) -> Result<(), Failure> {
        match here {
            Value::Object(members) => {
                if members.shift_remove(last).is_none() {
                    return Err(Failure::usage(format!("{} is not there, so it cannot be taken away", self.field())));
                }
            }
            Value::Array(items) => {
                let index = last.parse::<usize>().ok().filter(|index| *index < items.len());
                let count = items.len();
                let index = index.ok_or_else(|| {
                    self.nowhere(last, &format!("the list has entries 0 to {}", count.saturating_sub(1)))
                })?;
                items.remove(index);
            }
            _ => return Err(self.nowhere(last, "there are no fields below it")),
        }
        Ok(())
    }

    fn add(&self, list: &mut Value, value: Value) -> Result<(), Failure> {
        match (list, value) {
            (Value::Array(items), Value::Array(more)) => items.extend(more),
            (Value::Array(items), one) => items.push(one),
            _ => return Err(Failure::usage(format!("{} is no list. Write {}=VALUE", self.field(), self.field()))),
        }
        Ok(())
    }

    fn field(&self) -> String {
        self.path.join(".")
    }

    fn nowhere(&self, segment: &str, reason: &str) -> Failure {
        Failure::usage(format!("{} leads nowhere at \"{segment}\": {reason}", self.field()))
    }
}

/// A number or a truth as JSON writes it.
fn scalar(text: &str) -> Option<Value> {
    serde_json::from_str(text).ok().filter(|value: &Value| value.is_number() || value.is_boolean())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn amends(assignment: &str, before: Value, after: &Value) {
        let Value::Object(mut members) = before else { panic!("a record is an object") };
        Assignment::read(assignment).unwrap().apply(&mut members, "fastener", false).unwrap();
        assert_eq!(Value::Object(members), *after);
    }

    #[test]
    fn fields_are_set_taken_away_and_added_to() {
        amends("source.page=41", json!({ "id": "a.b" }), &json!({ "id": "a.b", "source": { "page": "41" } }));
        amends("count=4", json!({}), &json!({ "count": 4 }));
        amends("source.page=", json!({ "source": { "page": "4" } }), &json!({ "source": {} }));
        amends("stages[1]=20 N·m", json!({ "stages": ["hand", "2 N·m"] }), &json!({ "stages": ["hand", "20 N·m"] }));
        amends("stages=hand | 8 N·m", json!({}), &json!({ "stages": ["hand", "8 N·m"] }));
        amends("stages=hand → 8 N·m", json!({}), &json!({ "stages": ["hand", "8 N·m"] }));
        amends("stages+=+ 90°", json!({ "stages": ["hand"] }), &json!({ "stages": ["hand", "+ 90°"] }));
        amends(
            r#"accepted+={"rule":"missing-source","reason":"x=y"}"#,
            json!({}),
            &json!({ "accepted": [{ "rule": "missing-source", "reason": "x=y" }] }),
        );
        amends(
            "accepted+=missing-source; read aloud",
            json!({}),
            &json!({ "accepted": [{ "rule": "missing-source", "reason": "read aloud" }] }),
        );
    }

    #[track_caller]
    fn refuses(assignment: &str, says: &str) {
        let mut members = json!({ "stages": ["hand"], "id": "a.b" }).as_object().unwrap().clone();
        let done = Assignment::read(assignment).and_then(|read| read.apply(&mut members, "fastener", false));
        let failure = format!("{:?}", done.unwrap_err());
        assert!(failure.contains(says), "{failure}");
    }

    #[test]
    fn what_leads_nowhere_is_refused() {
        refuses("page", "has no =");
        refuses("=3", "names no field");
        refuses("stages[4]=hand", "the list has entries 0 to 0");
        refuses("id.x=3", "no fields below it");
        refuses("id+=3", "id is no list");
        refuses("note=", "is not there");
        refuses("note={", "not readable JSON");
    }
}
