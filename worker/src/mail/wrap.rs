//! Breaks the lines of a plain text so that they fit a narrow reader. It knows columns, not mails.

/// The longest line, in characters: it fits 80 columns when quoted a few times, and from 74 on the
/// mail library would encode even plain ASCII, which makes a mail's file hard to read.
const COLUMNS: usize = 72;

/// Breaks each line at spaces to at most [`COLUMNS`] characters and indents what follows to where
/// the line's own text begins, after leading spaces and a `* `. A longer word stays whole, so that
/// addresses survive.
pub(super) fn wrap(text: &str) -> String {
    let mut wrapped = String::with_capacity(text.len() + text.len() / 16);
    for line in text.lines() {
        wrap_line(line.trim_end(), &mut wrapped);
        wrapped.push('\n');
    }
    wrapped
}

fn wrap_line(line: &str, out: &mut String) {
    let body = line.trim_start_matches(' ');
    let body = body.strip_prefix("* ").unwrap_or(body);
    let (lead, body) = line.split_at(line.len() - body.len());
    out.push_str(lead);
    let indent = lead.chars().count();
    let mut column = indent;
    for word in body.split(' ').filter(|word| !word.is_empty()) {
        let width = word.chars().count();
        if column > indent && column + 1 + width > COLUMNS {
            out.push('\n');
            out.extend(std::iter::repeat_n(' ', indent));
            column = indent;
        } else if column > indent {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += width;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_broken_at_spaces_and_indented_below_its_bullet() {
        let text = format!("  * {}\n\nshort", ["word"; 20].join(" "));
        let first = format!("  * {}", ["word"; 13].join(" "));
        let second = format!("    {}", ["word"; 7].join(" "));
        assert_eq!(wrap(&text), format!("{first}\n{second}\n\nshort\n"));
    }

    #[test]
    fn a_line_of_exactly_the_width_stays_and_one_more_breaks() {
        let fits = format!("{} {}", "a".repeat(40), "b".repeat(COLUMNS - 41));
        assert_eq!(wrap(&fits), format!("{fits}\n"));
        let over = format!("{} {}", "a".repeat(40), "b".repeat(COLUMNS - 40));
        assert_eq!(wrap(&over), over.replace(' ', "\n") + "\n");
    }

    #[test]
    fn a_word_longer_than_a_line_stays_whole() {
        let address = format!("https://example.org/{}", "x".repeat(100));
        assert_eq!(wrap(&format!("see {address} now")), format!("see\n{address}\nnow\n"));
    }
}
