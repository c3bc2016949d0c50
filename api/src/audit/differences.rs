//! What is different between two records, field by field. Knows JSON, and no record.

use serde_json::Value;

/// A field, and what stood in it.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Difference {
    /// Its name; within another field, after that one's name and a dot.
    pub(super) field: String,
    pub(super) from: Value,
    pub(super) to: Value,
}

/// The fields that are not the same, in the order of their names. A field that one of the two has not
/// is null there; a list is one value.
pub(super) fn differences(before: &Value, after: &Value) -> Vec<Difference> {
    let mut found = Vec::new();
    compare("", before, after, &mut found);
    found.sort_by(|one, other| one.field.cmp(&other.field));
    found
}

fn compare(field: &str, before: &Value, after: &Value, found: &mut Vec<Difference>) {
    if before == after {
        return;
    }
    let (Value::Object(old), Value::Object(new)) = (before, after) else {
        let (field, from, to) = (field.to_owned(), before.clone(), after.clone());
        found.push(Difference { field, from, to });
        return;
    };
    let below =
        |name: &str| if field.is_empty() { name.to_owned() } else { format!("{field}.{name}") };
    for (name, value) in old {
        compare(&below(name), value, new.get(name).unwrap_or(&Value::Null), found);
    }
    for (name, value) in new.iter().filter(|(name, _)| !old.contains_key(*name)) {
        compare(&below(name), &Value::Null, value, found);
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn only_what_differs_is_told_with_the_place_it_stands_in() {
        let before = json!({"name": "Blue", "days": [1, 2], "shots": {"plan": 500, "notice": 100},
            "gone": true, "guardian": null});
        let after = json!({"name": "Blue", "days": [1, 3], "shots": {"plan": 600, "notice": 100},
            "come": 1, "guardian": {"name": "Runa"}});
        let found = differences(&before, &after);
        let told: Vec<_> = found
            .iter()
            .map(|one| (one.field.as_str(), one.from.clone(), one.to.clone()))
            .collect();
        assert_eq!(
            told,
            [
                ("come", json!(null), json!(1)),
                ("days", json!([1, 2]), json!([1, 3])),
                ("gone", json!(true), json!(null)),
                ("guardian", json!(null), json!({"name": "Runa"})),
                ("shots.plan", json!(500), json!(600)),
            ]
        );
        assert_eq!(differences(&before, &before), []);
    }
}
