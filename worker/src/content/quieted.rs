//! What a notice to a guardian says: which kinds of mail the minor does not get any more by now.

use domain::{mail::QuietedNotice, members::Guardian};
use store::StoreError;

use super::{Content, Scene};

/// Nothing, if the minor is of age, has no guardian, or gets all mail again.
pub(super) fn content(scene: &mut Scene<'_, '_, '_>) -> Result<Option<Content>, StoreError> {
    let (club, minor) = (scene.club, scene.recipient);
    let Some(guardian) = guardian(scene) else { return Ok(None) };
    let stopped = store::stopped_mail::of_member(scene.read, club.id, minor.id)?;
    let notice = QuietedNotice {
        club: club.name.clone(),
        guardian: guardian.name.clone(),
        minor: minor.name.clone(),
        kinds: stopped.into_iter().collect(),
    };
    Ok(Some(notice).filter(|notice| !notice.kinds.is_empty()).map(Content::Quieted))
}

/// The guardian, as long as the recipient is a minor.
fn guardian<'r>(scene: &Scene<'_, 'r, '_>) -> Option<&'r Guardian> {
    let today = scene.club.zone.date_of(scene.now);
    scene.recipient.guardian.as_ref().filter(|_| scene.recipient.is_minor(today))
}
