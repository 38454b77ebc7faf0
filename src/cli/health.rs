//! `shimlight health`: asks the server of this computer, as a container's health check does.

use std::{
    io::{Read, Write},
    net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, TcpStream},
    process::ExitCode,
    time::Duration,
};

use clap::Args;

#[derive(Debug, Args)]
pub struct Options {
    /// Where the server listens
    #[arg(long, value_name = "ADDRESS", env = "SHIMLIGHT_LISTEN", default_value = "127.0.0.1:8080")]
    listen: SocketAddr,
}

pub fn run(options: &Options) -> ExitCode {
    match ask(options.listen) {
        Ok(status) if status.starts_with("HTTP/1.1 200") => ExitCode::SUCCESS,
        Ok(status) => {
            eprintln!("shimlight: not well: {status}");
            ExitCode::FAILURE
        }
        Err(error) => {
            eprintln!("shimlight: no answer: {error}");
            ExitCode::FAILURE
        }
    }
}

/// The first line of the answer.
fn ask(listen: SocketAddr) -> std::io::Result<String> {
    let ip = match listen.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => Ipv4Addr::LOCALHOST.into(),
        IpAddr::V6(ip) if ip.is_unspecified() => Ipv6Addr::LOCALHOST.into(),
        ip => ip,
    };
    let patience = Duration::from_secs(8);
    let mut stream = TcpStream::connect_timeout(&SocketAddr::new(ip, listen.port()), patience)?;
    stream.set_read_timeout(Some(patience))?;
    stream.write_all(b"GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")?;
    let mut answer = Vec::new();
    stream.take(4096).read_to_end(&mut answer)?;
    Ok(String::from_utf8_lossy(&answer).lines().next().unwrap_or_default().to_owned())
}
