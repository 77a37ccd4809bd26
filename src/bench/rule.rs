//! The page of an audit rule.

use super::page::{Answer, Trouble, html};
use crate::audit::rule_named;
use actix_web::web::Path;
use askama::Template;

/// A piece of a rule's page.
#[derive(Debug, PartialEq, Eq)]
enum Piece {
    Heading(String),
    Paragraph(String),
    Example(String),
}

#[derive(Template)]
#[template(path = "page_rule.html", config = "src/askama.toml")]
struct RulePage<'r> {
    name: &'r str,
    pieces: Vec<Piece>,
}

/// The page of a rule: why it matters, what it flags, what it accepts.
pub async fn rule_page(name: Path<String>) -> Answer {
    let rule = rule_named(&name).ok_or_else(|| Trouble::not_found(format!("the rule {name}")))?;
    html(&RulePage { name: rule.name, pieces: pieces(&rule.page()) })
}

/// The pieces of a page: headings, paragraphs and examples, which is all that the pages of rules use of Markdown.
fn pieces(markdown: &str) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut text: Vec<&str> = Vec::new();
    let mut in_example = false;
    for line in markdown.lines() {
        let is_fence = line.trim_start().starts_with("```");
        let heading = line.strip_prefix('#').filter(|_| !in_example).map(|rest| rest.trim_start_matches('#').trim());
        if is_fence || heading.is_some() || (line.trim().is_empty() && !in_example) {
            finish(&mut pieces, &mut text, in_example);
        } else {
            text.push(line);
        }
        in_example ^= is_fence;
        if let Some(heading) = heading {
            pieces.push(Piece::Heading(heading.to_owned()));
        }
    }
    finish(&mut pieces, &mut text, in_example);
    pieces
}

fn finish(pieces: &mut Vec<Piece>, text: &mut Vec<&str>, is_example: bool) {
    if text.is_empty() {
        return;
    }
    let lines = std::mem::take(text);
    pieces.push(if is_example {
        Piece::Example(lines.join("\n"))
    } else {
        Piece::Paragraph(lines.join(" ").replace(['`', '*'], ""))
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_is_taken_apart() {
        let text = |text: &str| text.to_owned();
        assert_eq!(
            pieces("# a-rule\n\nFlags `x`\nand y.\n\n## Flagged\n\n```json\n{ \"a\": 1 }\n\n# no heading\n```\nEnd"),
            [
                Piece::Heading(text("a-rule")),
                Piece::Paragraph(text("Flags x and y.")),
                Piece::Heading(text("Flagged")),
                Piece::Example(text("{ \"a\": 1 }\n\n# no heading")),
                Piece::Paragraph(text("End")),
            ]
        );
    }

    #[test]
    fn every_rule_has_pieces_of_each_kind() {
        for rule in crate::audit::RULES {
            let pieces = pieces(&rule.page());
            assert!(pieces.iter().any(|piece| matches!(piece, Piece::Example(_))), "{}", rule.name);
            assert!(pieces.iter().any(|piece| matches!(piece, Piece::Heading(_))), "{}", rule.name);
        }
    }
}
