//! Style and script of the page, in the binary.

use super::page::Trouble;
use actix_web::http::header::CACHE_CONTROL;
use actix_web::{HttpResponse, web};

/// Name, media type and content.
const ASSETS: &[(&str, &str, &str)] = &[
    ("bench.css", "text/css; charset=utf-8", include_str!("assets/bench.css")),
    ("card.css", "text/css; charset=utf-8", include_str!("../card/templates/card.css")),
    ("bench.js", "text/javascript; charset=utf-8", include_str!("assets/bench.js")),
    ("entry.js", "text/javascript; charset=utf-8", include_str!("assets/entry.js")),
    ("step.js", "text/javascript; charset=utf-8", include_str!("assets/step.js")),
];

/// The address of an asset: with a sum of its content, so that it may be kept for ever.
///
/// # Panics
/// If there is no asset of this name: the templates name only those of the list, as a test says.
pub fn address(name: &str) -> String {
    let (_, _, content) = find(name).unwrap_or_else(|| unreachable!("no asset {name}"));
    format!("/bench/assets/{name}?v={:08x}", crc32fast::hash(content.as_bytes()))
}

fn find(name: &str) -> Option<&'static (&'static str, &'static str, &'static str)> {
    ASSETS.iter().find(|(known, ..)| *known == name)
}

/// Sends an asset.
pub async fn asset(name: web::Path<String>) -> Result<HttpResponse, Trouble> {
    let (_, media_type, content) = find(&name).ok_or_else(|| Trouble::not_found(name.as_str()))?;
    Ok(HttpResponse::Ok()
        .content_type(*media_type)
        .insert_header((CACHE_CONTROL, "public, max-age=31536000, immutable"))
        .body(*content))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_templates_name_only_assets_that_are_there() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/bench/templates");
        let named = regex::Regex::new(r#"asset\("([^"]+)"\)"#).unwrap();
        let mut count = 0;
        for entry in std::fs::read_dir(folder).unwrap() {
            let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
            for found in named.captures_iter(&text) {
                assert!(find(&found[1]).is_some(), "no asset {}", &found[1]);
                count += 1;
            }
        }
        assert!(count >= 2);
    }
}
