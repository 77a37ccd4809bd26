//! Rule pages for a terminal. They are Markdown with headings, paragraphs, lists and blocks of code, and no more.

use super::layout;
use super::terminal;

/// A page for a terminal: headings stand out, paragraphs are filled to the width, code is indented.
#[must_use]
pub fn for_terminal(page: &str, width: usize) -> String {
    let mut out = Out { text: String::new(), paragraph: Vec::new(), width };
    let mut is_code = false;
    for line in page.lines() {
        if line.starts_with("```") {
            out.flush();
            is_code = !is_code;
        } else if is_code {
            out.text += &layout::fill(line, width, "    ", "      ");
        } else if let Some(heading) = line.strip_prefix("# ") {
            out.flush();
            out.text += &format!("{}\n", terminal::heading(heading));
        } else if line.trim().is_empty() {
            out.flush();
            out.text.push('\n');
        } else {
            if line.starts_with("- ") {
                out.flush();
            }
            out.paragraph.push(line.trim().to_owned());
        }
    }
    out.flush();
    out.text
}

struct Out {
    text: String,
    paragraph: Vec<String>,
    width: usize,
}

impl Out {
    fn flush(&mut self) {
        let paragraph = std::mem::take(&mut self.paragraph).join(" ");
        if !paragraph.is_empty() {
            let rest = if paragraph.starts_with("- ") { "    " } else { "  " };
            self.text += &layout::fill(&paragraph, self.width, "  ", rest);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_is_filled_and_its_code_indented() {
        let page = "One sentence\nin two lines.\n\n# Flagged\n```json\n{ \"a\": 1 }\n```\n- a point";
        let text = anstream::adapter::strip_str(&for_terminal(page, 80)).to_string();
        assert_eq!(text, "  One sentence in two lines.\n\nFlagged\n    { \"a\": 1 }\n  - a point\n");
    }
}
