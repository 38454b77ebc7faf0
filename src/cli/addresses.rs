//! The addresses to type into a browser.

use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};

/// What people type to reach a server listening on `listen`: itself, or, when it listens on every
/// address of this computer, the one in the lab's network.
pub fn to_type(listen: SocketAddr, public_url: Option<&str>) -> Vec<String> {
    if let Some(url) = public_url {
        return vec![url.trim_end_matches('/').to_owned()];
    }
    let web = |ip: IpAddr| format!("http://{}", SocketAddr::new(ip, listen.port()));
    if !listen.ip().is_unspecified() {
        return vec![web(listen.ip())];
    }
    let mut found = Vec::new();
    if let Some(ip) = own_address("0.0.0.0:0", "192.0.2.1:9") {
        found.push(web(ip));
    }
    if listen.is_ipv6()
        && let Some(ip) = own_address("[::]:0", "[2001:db8::1]:9")
    {
        found.push(web(ip));
    }
    found.push(web(Ipv4Addr::LOCALHOST.into()));
    found
}

/// The address this computer would speak from. Connecting a datagram socket only looks up the
/// route (to an address reserved for documentation); nothing is sent.
fn own_address(from: &str, towards: &str) -> Option<IpAddr> {
    let socket = UdpSocket::bind(from).ok()?;
    socket.connect(towards).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_unspecified() && !ip.is_loopback()).then_some(ip)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_public_address_stands_for_all_others() {
        let listen = "0.0.0.0:8080".parse().expect("an address");
        assert_eq!(to_type(listen, Some("https://lab.example/")), ["https://lab.example"]);
    }

    #[test]
    fn one_address_is_typed_as_it_is_listened_on() {
        let listen = "127.0.0.1:8080".parse().expect("an address");
        assert_eq!(to_type(listen, None), ["http://127.0.0.1:8080"]);
    }

    #[test]
    fn listening_everywhere_always_names_this_computer_itself() {
        let listen = "0.0.0.0:9000".parse().expect("an address");
        assert_eq!(to_type(listen, None).last().map(String::as_str), Some("http://127.0.0.1:9000"));
    }
}
