//! Writing SVG: escaped text, short numbers, no reference to anything outside.
//!
//! Lines and text take the colour of the page (`currentColor`); faces have the class `paper`, white unless the page's
//! own style says otherwise. There is no style inside the picture, so that it fits a page that allows none.

use std::fmt::{self, Write};

/// Text made safe for the content and the attributes of HTML and SVG.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// A coordinate with at most one decimal.
#[derive(Clone, Copy)]
pub(super) struct Short(pub f64);

impl fmt::Display for Short {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = (self.0 * 10.0).round();
        // No "-0": pictures of the same record are the same bytes everywhere.
        let tenths = if tenths == 0.0 { 0.0 } else { tenths };
        write!(f, "{}", tenths / 10.0)
    }
}

/// A picture while it is drawn.
#[derive(Debug, Default)]
pub(super) struct Svg(String);

impl Svg {
    /// Begins a picture of this size with its name and its description in words.
    pub fn begin(width: f64, height: f64, id: &str, title: &str, description: &str) -> Self {
        let (id, title, description) = (escaped(id), escaped(title), escaped(description));
        let (width, height) = (Short(width), Short(height));
        let mut svg = Self::default();
        svg.raw(format_args!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
             height=\"{height}\" role=\"img\" aria-labelledby=\"{id}-title {id}-desc\" \
             font-family=\"system-ui, sans-serif\" fill=\"none\" stroke-linejoin=\"round\" stroke-linecap=\"round\">\
             <title id=\"{id}-title\">{title}</title><desc id=\"{id}-desc\">{description}</desc>\
             <rect class=\"paper\" width=\"{width}\" height=\"{height}\" fill=\"white\"/>"
        ));
        svg
    }

    /// Adds what is already written as SVG.
    pub fn raw(&mut self, part: fmt::Arguments<'_>) {
        // Writing into a string cannot fail.
        let _ = self.0.write_fmt(part);
        self.0.push('\n');
    }

    /// A line of text.
    pub fn text(&mut self, x: f64, y: f64, size: f64, anchor: &str, attributes: &str, text: &str) {
        self.raw(format_args!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\" fill=\"currentColor\"{attributes}>{}</text>",
            Short(x),
            Short(y),
            Short(size),
            escaped(text)
        ));
    }

    /// Ends the picture.
    pub fn end(mut self) -> String {
        self.0.push_str("</svg>\n");
        self.0
    }
}

/// An id for an element, made of letters, digits and hyphens.
pub(super) fn id_of(text: &str) -> String {
    let mut id = String::from("picture");
    for part in text.to_lowercase().split(|c: char| !c.is_ascii_alphanumeric()).filter(|part| !part.is_empty()) {
        id.push('-');
        id.push_str(part);
    }
    id
}

/// Breaks a text into lines of at most about `width` characters.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_written_by_people_becomes_markup() {
        assert_eq!(escaped("<b a='1' c=\"2\">&\u{7}"), "&lt;b a=&#39;1&#39; c=&quot;2&quot;&gt;&amp; ");
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!(format!("{} {} {}", Short(-0.04), Short(12.349), Short(7.0)), "0 12.3 7");
    }

    #[test]
    fn lines_break_between_words() {
        assert_eq!(wrapped("from the belt side", 8), ["from the", "belt", "side"]);
        assert!(wrapped("  ", 8).is_empty());
    }
}
