//! Days in words, as the mails say them.

use jiff::civil::Date;

/// A day: "Sat 12 June".
pub(super) fn day(date: Date) -> String {
    date.strftime("%a %-d %B").to_string()
}

/// One day or several in a row: "on Sat 12 June", "from Sat 12 to Sun 13 June".
pub(super) fn on_days((first, last): (Date, Date)) -> String {
    if first == last {
        return format!("on {}", day(first));
    }
    let same_month = (first.year(), first.month()) == (last.year(), last.month());
    let from = if same_month { first.strftime("%a %-d").to_string() } else { day(first) };
    format!("from {from} to {}", day(last))
}

/// Reasons as they are read in a mail: each date that is written as in a table becomes a day with its name.
pub(super) fn in_words(reason: &str) -> String {
    /// As long as `2027-06-12`.
    const LENGTH: usize = 10;
    let mut words = String::with_capacity(reason.len() + LENGTH);
    let mut rest = reason;
    while let Some(next) = rest.chars().next() {
        let date = rest.get(..LENGTH).and_then(|text| text.parse::<Date>().ok());
        if let Some(date) = date {
            words.push_str(&date.strftime("%a %-d %B %Y").to_string());
            rest = rest.get(LENGTH..).unwrap_or_default();
        } else {
            words.push(next);
            rest = rest.get(next.len_utf8()..).unwrap_or_default();
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn days_are_named_as_short_as_they_can_be() {
        let (saturday, sunday) = (date(2027, 6, 12), date(2027, 6, 13));
        assert_eq!(on_days((saturday, saturday)), "on Sat 12 June");
        assert_eq!(on_days((saturday, sunday)), "from Sat 12 to Sun 13 June");
        assert_eq!(on_days((date(2027, 5, 31), sunday)), "from Mon 31 May to Sun 13 June");
    }

    #[test]
    fn a_date_in_a_reason_gets_the_name_of_its_day() {
        let said = in_words("dry fire on 2027-03-13; 512 shots, plan 2027-13-40 – 弓 2027-06-12");
        let expected =
            "dry fire on Sat 13 March 2027; 512 shots, plan 2027-13-40 – 弓 Sat 12 June 2027";
        assert_eq!(said, expected);
        assert_eq!(in_words(""), "");
    }
}
