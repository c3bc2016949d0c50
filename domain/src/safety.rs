//! The cautions that stand wherever something is advised.
//!
//! They are common practice, no source, and they give way to local rules, to the bow and string
//! maker's instructions and to a qualified bow technician.

/// The one sentence that goes with any advice.
pub const FIRST: &str = "Local rules, the bow and string maker's instructions and a qualified \
bow technician come first. No count and no condition shown here replaces looking at the string \
before you shoot.";

/// What to stop for, and who has to look. One sentence a line.
pub const CAUTIONS: [&str; 6] = [
    "Stop shooting if a strand is cut or broken, if a strand has pulled out of a loop, or if a \
serving has slid or let the string bulge. That string is out of service now, whatever its count.",
    "After a dry fire, or an arrow that broke at the nock, do not shoot again until a competent \
person has looked over string, limbs and limb tips and, on a compound, cams, axles and cables. \
Replace the string.",
    "Work on a compound's string or cables needs a suitable bow press and training: leave it to a \
professional shop.",
    "On a recurve or longbow use a stringer. After a string has failed, look for cracks, \
delamination, twist and damaged tips: a new string does not mend a damaged limb.",
    "Check nocks every end, and never draw without an arrow. For juniors an adult or coach \
confirms.",
    "A bow marked as not to be shot is cleared by a coach or owner who inspected it and gave a \
reason, never by the passing of time.",
];
