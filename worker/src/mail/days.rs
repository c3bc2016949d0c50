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
}
