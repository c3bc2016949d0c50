//! What a mail with a link says, as long as the link works. What is shown of the link is not made here.

use domain::{
    links::Purpose,
    mail::{LinkNotice, MailKind},
};
use store::StoreError;

use super::{Content, Scene};

/// Nothing, if the link was used, ran out, or its reason fell away: somebody has joined meanwhile.
pub(super) fn content(scene: &mut Scene<'_, '_, '_>) -> Result<Option<Content>, StoreError> {
    let Some(id) = scene.posted.mail.link else { return Ok(None) };
    let link = store::links::get(scene.read, scene.club.id, id)?;
    let member = scene.recipient;
    let joined = store::access::password_hash(scene.read, scene.club.id, member.id)?.is_some();
    let (of, fits) = match link.purpose {
        Purpose::Invitation => (MailKind::Invitation, !joined),
        Purpose::Reset => (MailKind::Reset, joined),
    };
    if of != scene.posted.mail.kind || link.member != member.id {
        return Ok(None);
    }
    if !fits || !link.works(scene.now) {
        return Ok(None);
    }
    let zone = member.zone.as_ref().unwrap_or(&scene.club.zone).clone();
    let notice = LinkNotice {
        club: scene.club.name.clone(),
        recipient: member.name.clone(),
        link,
        until: zone.date_of(link.expires_at).to_datetime(zone.time_of(link.expires_at)),
        zone,
    };
    Ok(Some(match link.purpose {
        Purpose::Invitation => Content::Invitation(notice),
        Purpose::Reset => Content::Reset(notice),
    }))
}
