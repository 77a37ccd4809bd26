//! Rows and columns, printed for a terminal, a pipe or a spreadsheet.

/// A table of text.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Table {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table with these columns.
    pub fn new<C: Into<String>>(columns: impl IntoIterator<Item = C>) -> Self {
        Self { columns: columns.into_iter().map(Into::into).collect(), rows: Vec::new() }
    }

    /// Adds a row; cells left over stay empty.
    pub fn row<C: Into<String>>(&mut self, cells: impl IntoIterator<Item = C>) {
        let mut row: Vec<String> = cells.into_iter().map(Into::into).collect();
        row.resize(self.columns.len(), String::new());
        self.rows.push(row);
    }

    /// Without the columns that are empty in every row.
    #[must_use]
    pub fn without_empty_columns(self) -> Self {
        let used: Vec<usize> =
            (0..self.columns.len()).filter(|&i| self.rows.iter().any(|row| !row[i].is_empty())).collect();
        let pick = |row: &Vec<String>| used.iter().map(|&i| row[i].clone()).collect();
        Self { columns: pick(&self.columns), rows: self.rows.iter().map(pick).collect() }
    }

    /// For people at a terminal: columns aligned, long cells wrapped to `width`.
    #[must_use]
    pub fn to_terminal(&self, width: u16) -> String {
        let mut table = comfy_table::Table::new();
        table
            .load_style(comfy_table::presets::NOTHING)
            .set_content_arrangement(comfy_table::ContentArrangement::Dynamic);
        table.set_width(width);
        table.set_header(self.columns.iter().map(|name| name.replace('_', " ")));
        for row in &self.rows {
            table.add_row(row);
        }
        // What a row is about must be readable in one piece.
        if let Some(first) = table.column_mut(0) {
            first.set_constraint(comfy_table::ColumnConstraint::ContentWidth);
        }
        let lines: Vec<String> = table.lines().map(|line| line.trim_end().to_owned()).collect();
        format!("{}\n", lines.join("\n"))
    }

    /// For a pipe: separated by tabs, nothing cut.
    #[must_use]
    pub fn to_plain(&self) -> String {
        let clean = |cell: &String| cell.replace(['\t', '\n', '\r'], " ");
        let line = |cells: &Vec<String>| cells.iter().map(clean).collect::<Vec<_>>().join("\t") + "\n";
        self.rows.iter().map(line).collect()
    }

    /// For a spreadsheet: RFC 4180 with a header.
    #[must_use]
    pub fn to_csv(&self) -> String {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        for row in std::iter::once(&self.columns).chain(&self.rows) {
            writer
                .write_record(row.iter().map(|cell| crate::answer::guarded_cell(cell).into_owned()))
                .expect("memory takes every row");
        }
        String::from_utf8(writer.into_inner().expect("memory takes every row")).expect("cells are UTF-8")
    }
}

/// A table of one value: a row for each of its members.
pub fn of_members(value: &impl serde::Serialize) -> Table {
    of_members_but(value, &[])
}

/// A table of one value without some of its members.
pub fn of_members_but(value: &impl serde::Serialize, without: &[&str]) -> Table {
    let mut table = Table::new(["what", "value"]);
    for (key, cell) in members(value).into_iter().filter(|(key, _)| !without.contains(&key.as_str())) {
        table.row([key, cell]);
    }
    table
}

/// A table of values of one kind: a row for each, a column for each member that any of them has.
pub fn of_rows<T: serde::Serialize>(values: &[T]) -> Table {
    let rows: Vec<Vec<(String, String)>> = values.iter().map(members).collect();
    let mut columns: Vec<String> = Vec::new();
    for (key, _) in rows.iter().flatten() {
        if !columns.contains(key) {
            columns.push(key.clone());
        }
    }
    let mut table = Table::new(columns.clone());
    for row in &rows {
        let cell = |column: &String| row.iter().find(|(key, _)| key == column).map_or("", |(_, cell)| cell.as_str());
        table.row(columns.iter().map(cell));
    }
    table
}

/// The members of a value and their text, in order.
fn members(value: &impl serde::Serialize) -> Vec<(String, String)> {
    let Ok(serde_json::Value::Object(members)) = serde_json::to_value(value) else { return Vec::new() };
    members.into_iter().map(|(key, value)| (key, cell(&value))).collect()
}

/// A JSON value as the text of a cell.
pub fn cell(value: &serde_json::Value) -> String {
    match value {
        serde_json::Value::Null => String::new(),
        serde_json::Value::String(text) => text.clone(),
        serde_json::Value::Bool(true) => "yes".to_owned(),
        serde_json::Value::Bool(false) => "no".to_owned(),
        serde_json::Value::Array(items) => items.iter().map(cell).collect::<Vec<_>>().join(", "),
        serde_json::Value::Object(members) => members.values().map(cell).collect::<Vec<_>>().join(" "),
        other @ serde_json::Value::Number(_) => other.to_string(),
    }
}
