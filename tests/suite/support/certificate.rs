//! Certificates of a test's own making, and mail servers that show them.

use rcgen::{CertificateParams, DnType, KeyPair, date_time_ymd};

use super::{scratch::Scratch, smtp_server::SmtpServer};

/// A certificate that vouches for itself, in a folder with its key. A program trusts it when it is told
/// the file at [`Certificate::pem`].
pub(crate) struct Certificate(Scratch);

impl Certificate {
    /// One that holds for a host.
    pub(crate) fn of(host: &str) -> Self {
        Self::made(host, 2199)
    }

    /// One that has run out.
    pub(crate) fn expired(host: &str) -> Self {
        Self::made(host, 2020)
    }

    fn made(host: &str, last_year: i32) -> Self {
        let mut asked = CertificateParams::new([host.to_owned()]).unwrap();
        let own = format!("Invented issuer of {host} until {last_year}");
        asked.distinguished_name.push(DnType::CommonName, own);
        asked.not_before = date_time_ymd(2019, 1, 1);
        asked.not_after = date_time_ymd(last_year, 1, 1);
        let key = KeyPair::generate().unwrap();
        let folder = Scratch::new();
        let signed = asked.self_signed(&key).unwrap();
        std::fs::write(folder.path().join("cert.der"), signed.der()).unwrap();
        std::fs::write(folder.path().join("key.der"), key.serialize_der()).unwrap();
        Self(folder)
    }

    /// A mail server with this certificate: `starttls`, or `implicit` from the start.
    pub(crate) fn shown_by(&self, mode: &str, tls: &str) -> SmtpServer {
        let folder = self.0.path().to_str().unwrap();
        SmtpServer::start_with(mode, Scratch::new(), &["--tls", tls, "--certificate", folder])
    }

    /// The file that makes a program trust it, once a server has shown it.
    pub(crate) fn pem(&self) -> String {
        self.0.path().join("cert.pem").to_str().unwrap().to_owned()
    }
}
