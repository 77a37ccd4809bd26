//! The two forms that collectors read: OpenMetrics, and the older text form of Prometheus (0.0.4).

use std::fmt::Write;

/// The media type of OpenMetrics.
pub const OPENMETRICS: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";
/// The media type of the older text form.
pub const TEXT: &str = "text/plain; version=0.0.4; charset=utf-8";

/// OpenMetrics text in the older form: there a counter is named as its sample is, with `_total`, an information is a
/// gauge, and neither units nor an end are told.
#[must_use]
pub fn as_text(openmetrics: &str) -> String {
    let mut out = String::with_capacity(openmetrics.len());
    let mut help: Option<(&str, &str)> = None;
    for line in openmetrics.lines() {
        let mut words = line.splitn(4, ' ');
        match (words.next(), words.next(), words.next(), words.next()) {
            (Some("#"), Some("HELP"), Some(name), Some(text)) => help = Some((name, text)),
            (Some("#"), Some("TYPE"), Some(name), Some(kind)) => {
                let (ending, kind) = match kind {
                    "counter" => ("_total", "counter"),
                    "info" => ("_info", "gauge"),
                    kind => ("", kind),
                };
                if let Some((_, text)) = help.take().filter(|(helped, _)| *helped == name) {
                    let _ = writeln!(out, "# HELP {name}{ending} {text}");
                }
                let _ = writeln!(out, "# TYPE {name}{ending} {kind}");
            }
            (Some("#"), ..) => {}
            _ => {
                out.push_str(line);
                out.push('\n');
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_older_form_names_counters_as_their_samples() {
        let openmetrics = "# HELP a_requests Requests.\n# TYPE a_requests counter\na_requests_total{s=\"2 3\"} 5\n\
            # HELP a_size_bytes The size.\n# TYPE a_size_bytes gauge\n# UNIT a_size_bytes bytes\na_size_bytes 7\n\
            # HELP a_build The program.\n# TYPE a_build info\na_build_info{version=\"1\"} 1\n# EOF\n";
        let text = "# HELP a_requests_total Requests.\n# TYPE a_requests_total counter\na_requests_total{s=\"2 3\"} 5\n\
            # HELP a_size_bytes The size.\n# TYPE a_size_bytes gauge\na_size_bytes 7\n\
            # HELP a_build_info The program.\n# TYPE a_build_info gauge\na_build_info{version=\"1\"} 1\n";
        assert_eq!(as_text(openmetrics), text);
    }
}
