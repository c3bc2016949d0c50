//! A relay whose certificate nobody vouches for hears nothing: no sign-in, no address, no mail.

use std::{sync::Arc, time::Duration};

use tokio::{
    io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader},
    net::{TcpListener, TcpStream},
};
use tokio_rustls::{
    TlsAcceptor,
    rustls::{ServerConfig, crypto::aws_lc_rs, pki_types::PrivateKeyDer},
};
use worker::mail::{Partly, SendError, Transport};

use crate::letters::{letter, message};

/// A server that can encrypt, with a certificate of its own making.
fn acceptor() -> TlsAcceptor {
    let made = rcgen::generate_simple_self_signed(["localhost".to_owned()]).unwrap();
    let key = PrivateKeyDer::try_from(made.signing_key.serialize_der()).unwrap();
    let config = ServerConfig::builder_with_provider(Arc::new(aws_lc_rs::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_no_client_auth()
        .with_single_cert(vec![made.cert.der().clone()], key)
        .unwrap();
    TlsAcceptor::from(Arc::new(config))
}

/// What the relay says and hears in clear text before it encrypts.
async fn start_tls(stream: &mut TcpStream) {
    let mut stream = BufReader::new(stream);
    let mut line = String::new();
    stream.write_all(b"220 relay.example ESMTP\r\n").await.unwrap();
    stream.read_line(&mut line).await.unwrap();
    assert!(line.starts_with("EHLO "), "{line}");
    stream.write_all(b"250-relay.example\r\n250 STARTTLS\r\n").await.unwrap();
    line.clear();
    stream.read_line(&mut line).await.unwrap();
    assert_eq!(line, "STARTTLS\r\n");
    stream.write_all(b"220 go on\r\n").await.unwrap();
}

async fn check(scheme: &str) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let with_start_tls = scheme == "smtp+starttls";
    let relay = tokio::spawn(async move {
        let (mut stream, _) = listener.accept().await.unwrap();
        if with_start_tls {
            start_tls(&mut stream).await;
        }
        let mut heard = Vec::new();
        if let Ok(mut encrypted) = acceptor().accept(stream).await {
            encrypted.write_all(b"220 relay.example ESMTP\r\n").await.unwrap();
            let _ = encrypted.read_to_end(&mut heard).await;
        }
        heard
    });
    let url = format!("{scheme}://ada:hush-hush@localhost:{port}");
    let transport = Transport::smtp_within(&url, Duration::from_secs(20)).unwrap();
    let message = message(&letter(), "Invented Archers", "Ada Example").unwrap();
    match transport.send(&message, "unused", Partly::Wait).await {
        Err(SendError::Unreachable(why)) if why.contains("invalid peer certificate") => {}
        other => panic!("expected the certificate to be refused, got {other:?}"),
    }
    assert_eq!(relay.await.unwrap(), b"", "the relay heard something");
}

#[tokio::test]
async fn an_unknown_certificate_is_refused_from_the_start() {
    check("smtps").await;
}

#[tokio::test]
async fn an_unknown_certificate_is_refused_after_starttls() {
    check("smtp+starttls").await;
}
