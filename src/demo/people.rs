//! Everybody in the invented club, what they shoot and how well they look after it. Nobody here
//! exists, and no string here was ever shot.

use domain::bows::Division;

/// What everybody in the demo signs in with.
pub(super) const PASSWORD: &str = "an invented password";

/// The owner.
pub(super) const OWNER: Person = person("Odile Marrowgate", "odile@larkspur.example");

/// The coaches, one for each squad.
pub(super) const COACHES: [Person; 2] = [
    person("Benno Thistledown", "benno@larkspur.example"),
    person("Sefa Quillinan", "sefa@larkspur.example"),
];

/// The squads, in the order of their coaches.
pub(super) const SQUADS: [&str; 2] = ["Sight and stabilisers", "Bare bows and wheels"];

/// A person.
pub(super) struct Person {
    pub(super) name: &'static str,
    pub(super) email: &'static str,
}

const fn person(name: &'static str, email: &'static str) -> Person {
    Person { name, email }
}

/// How well somebody looks after a bow: the share of a limit at which they do what it asks for.
#[derive(Debug, Clone, Copy)]
pub(super) enum Care {
    /// Before it is due.
    Early,
    /// About when it is due.
    InTime,
    /// When a coach has asked twice.
    Late,
}

impl Care {
    /// In hundredths of the limit.
    pub(super) const fn percent(self) -> i64 {
        match self {
            Self::Early => 85,
            Self::InTime => 102,
            Self::Late => 150,
        }
    }
}

/// Days in which somebody did not shoot, from so many days ago until so many.
pub(super) type Away = (usize, usize);

/// An archer and their bow.
pub(super) struct Archer {
    pub(super) person: Person,
    pub(super) squad: usize,
    pub(super) bow: &'static str,
    pub(super) division: Division,
    pub(super) length_in: f64,
    pub(super) weight_lbf: f64,
    /// Practices a week, and shots at each.
    pub(super) per_week: u32,
    pub(super) per_practice: i64,
    pub(super) care: Care,
    /// Shots that the first string came with.
    pub(super) starting_shots: u32,
    /// Holidays, and an injury.
    pub(super) away: &'static [Away],
    /// A minor with a guardian, who gets a copy of every mail.
    pub(super) guardian: Option<Person>,
}

const fn shoots(
    (name, email): (&'static str, &'static str),
    (division, bow): (Division, &'static str),
    (length_in, weight_lbf): (f64, f64),
    (per_week, per_practice): (u32, i64),
    care: Care,
    (starting_shots, away): (u32, &'static [Away]),
) -> Archer {
    let squad = match division {
        Division::Recurve => 0,
        _ => 1,
    };
    let (person, guardian) = (person(name, email), None);
    Archer {
        person,
        squad,
        bow,
        division,
        length_in,
        weight_lbf,
        per_week,
        per_practice,
        care,
        starting_shots,
        away,
        guardian,
    }
}

const SUMMER: Away = (240, 219);
const WINTER: Away = (80, 70);

use Care::{Early, InTime, Late};
use Division::{Barebow, Compound, Longbow, Recurve, Traditional};

/// The archers.
pub(super) const ARCHERS: [Archer; 24] = [
    shoots(
        ("Tamsin Oakapple", "tamsin@larkspur.example"),
        (Recurve, "Tamsin's red recurve"),
        (68.0, 38.0),
        (4, 132),
        Early,
        (4_200, &[SUMMER]),
    ),
    shoots(
        ("Ruan Pennywhistle", "ruan@larkspur.example"),
        (Recurve, "Ruan's green recurve"),
        (70.0, 42.0),
        (4, 114),
        InTime,
        (9_100, &[WINTER]),
    ),
    shoots(
        ("Ilse Quillfeather", "ilse@larkspur.example"),
        (Recurve, "Ilse's recurve"),
        (66.0, 34.0),
        (3, 96),
        InTime,
        (0, &[(210, 196), WINTER]),
    ),
    shoots(
        ("Maarten Wolsey-Pryde", "maarten@larkspur.example"),
        (Recurve, "Maarten's recurve"),
        (70.0, 44.0),
        (5, 150),
        Early,
        (6_000, &[(160, 118)]),
    ),
    shoots(
        ("Noor Featherstonehay", "noor@larkspur.example"),
        (Recurve, "Noor's white recurve"),
        (66.0, 30.0),
        (2, 72),
        Late,
        (1_500, &[SUMMER, WINTER]),
    ),
    shoots(
        ("Piet Ambershaw", "piet@larkspur.example"),
        (Recurve, "Piet's recurve"),
        (68.0, 40.0),
        (3, 108),
        Late,
        (11_900, &[(130, 122)]),
    ),
    shoots(
        ("Lowri Saltmarsh", "lowri@larkspur.example"),
        (Recurve, "Lowri's recurve"),
        (68.0, 36.0),
        (3, 90),
        InTime,
        (2_300, &[WINTER]),
    ),
    shoots(
        ("Emrys Underhedge", "emrys@larkspur.example"),
        (Recurve, "Emrys's recurve"),
        (64.0, 26.0),
        (2, 60),
        InTime,
        (0, &[SUMMER]),
    ),
    shoots(
        ("Agnes Larkwright", "agnes@larkspur.example"),
        (Recurve, "Agnes's blue recurve"),
        (68.0, 37.0),
        (4, 120),
        Early,
        (300, &[(45, 33)]),
    ),
    shoots(
        ("Djuna Hollowell", "djuna@larkspur.example"),
        (Recurve, "Djuna's recurve"),
        (66.0, 33.0),
        (2, 84),
        Late,
        (7_400, &[WINTER]),
    ),
    shoots(
        ("Bram Tiltyard", "bram@larkspur.example"),
        (Compound, "Bram's compound"),
        (38.0, 52.0),
        (3, 84),
        InTime,
        (2_000, &[SUMMER]),
    ),
    shoots(
        ("Yevgenia Ashgrove", "yevgenia@larkspur.example"),
        (Compound, "Yevgenia's compound"),
        (36.0, 48.0),
        (4, 90),
        Early,
        (0, &[(300, 280)]),
    ),
    shoots(
        ("Corwin Peasemould", "corwin@larkspur.example"),
        (Compound, "Corwin's black compound"),
        (40.0, 58.0),
        (3, 72),
        Late,
        (5_200, &[WINTER]),
    ),
    shoots(
        ("Halima Stonecrop", "halima@larkspur.example"),
        (Compound, "Halima's compound"),
        (37.0, 45.0),
        (2, 66),
        InTime,
        (900, &[SUMMER]),
    ),
    shoots(
        ("Otto Fennimore", "otto@larkspur.example"),
        (Compound, "Otto's compound"),
        (39.0, 55.0),
        (2, 60),
        InTime,
        (3_100, &[(98, 60)]),
    ),
    shoots(
        ("Suvi Marchbanks", "suvi@larkspur.example"),
        (Compound, "Suvi's compound"),
        (36.0, 40.0),
        (3, 78),
        Early,
        (1_200, &[]),
    ),
    shoots(
        ("Ysa Underhedge", "ysa@larkspur.example"),
        (Barebow, "Ysa's barebow"),
        (66.0, 34.0),
        (2, 66),
        Late,
        (0, &[WINTER]),
    ),
    shoots(
        ("Rafe Corncrake", "rafe@larkspur.example"),
        (Barebow, "Rafe's barebow"),
        (68.0, 39.0),
        (3, 90),
        InTime,
        (3_600, &[SUMMER]),
    ),
    shoots(
        ("Thandi Wexcombe", "thandi@larkspur.example"),
        (Barebow, "Thandi's barebow"),
        (66.0, 32.0),
        (3, 84),
        Early,
        (800, &[(20, 12)]),
    ),
    shoots(
        ("Gil Nettlebed", "gil@larkspur.example"),
        (Barebow, "Gil's barebow"),
        (70.0, 41.0),
        (2, 72),
        InTime,
        (5_000, &[WINTER]),
    ),
    shoots(
        ("Kolja Reedmace", "kolja@larkspur.example"),
        (Longbow, "Kolja's longbow"),
        (68.0, 45.0),
        (3, 36),
        InTime,
        (0, &[SUMMER]),
    ),
    shoots(
        ("Wilmot Strake", "wilmot@larkspur.example"),
        (Longbow, "Wilmot's longbow"),
        (72.0, 50.0),
        (2, 42),
        Late,
        (600, &[WINTER]),
    ),
    shoots(
        ("Aleida Brackenbury", "aleida@larkspur.example"),
        (Traditional, "Aleida's horse bow"),
        (56.0, 38.0),
        (2, 48),
        InTime,
        (0, &[(180, 150)]),
    ),
    Archer {
        guardian: Some(person("Joss Tansy", "joss@larkspur.example")),
        ..shoots(
            ("Merrin Tansy", "merrin@larkspur.example"),
            (Traditional, "Merrin's small bow"),
            (58.0, 22.0),
            (2, 40),
            InTime,
            (0, &[SUMMER, WINTER]),
        )
    },
];
