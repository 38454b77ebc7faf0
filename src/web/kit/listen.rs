//! Taking connections: limits on slow and oversized requests, and an orderly end.

use std::{net::SocketAddr, sync::Arc, time::Duration};

use axum::{Router, body::Body, extract::ConnectInfo};
use hyper::{Request, body::Incoming, server::conn::http1};
use hyper_util::{
    rt::{TokioIo, TokioTimer},
    server::graceful::GracefulShutdown,
    service::TowerToHyperService,
};
use tokio::{
    net::{TcpListener, TcpStream},
    sync::Semaphore,
};
use tower::{ServiceExt, service_fn};

/// A request's first line and headers must have arrived within this time.
const LONGEST_HEADERS: Duration = Duration::from_secs(10);
/// No browser sends more headers.
const MOST_HEADERS: usize = 64;
/// First line and headers together may be this long.
const LARGEST_HEADERS: usize = 32 * 1024;
/// So many connections are held at once; further ones wait to be taken.
pub const MOST_CONNECTIONS: usize = 1024;
/// What is in flight when the server is told to stop gets this long.
const LONGEST_GOODBYE: Duration = Duration::from_secs(30);

/// Serves `router` on `listener` until `stop` is done, then lets the requests in flight finish.
///
/// Every request carries [`ConnectInfo`] with the address it came from: with `trusted_proxy`, the
/// one that the proxy in front wrote into `X-Forwarded-For`.
pub async fn serve(listener: TcpListener, router: Router, trusted_proxy: bool, stop: impl Future<Output = ()>) {
    let places = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    let graceful = GracefulShutdown::new();
    tokio::pin!(stop);
    loop {
        let place = tokio::select! {
            place = Arc::clone(&places).acquire_owned() => place.expect("the semaphore is never closed"),
            () = &mut stop => break,
        };
        let (stream, peer) = tokio::select! {
            taken = listener.accept() => match taken {
                Ok(taken) => taken,
                Err(error) => {
                    // out of file handles, or the caller has hung up: others may still be served
                    tracing::warn!(%error, "a connection could not be taken");
                    tokio::time::sleep(Duration::from_millis(50)).await;
                    continue;
                }
            },
            () = &mut stop => break,
        };
        let connection = graceful.watch(connection(stream, peer, router.clone(), trusted_proxy));
        tokio::spawn(async move {
            if let Err(error) = connection.await {
                tracing::debug!(%error, "a connection ended early");
            }
            drop(place);
        });
    }
    drop(listener);
    if tokio::time::timeout(LONGEST_GOODBYE, graceful.shutdown()).await.is_err() {
        tracing::warn!("some requests were still unanswered when the server stopped");
    }
}

fn connection(
    stream: TcpStream,
    peer: SocketAddr,
    router: Router,
    trusted_proxy: bool,
) -> http1::Connection<
    TokioIo<TcpStream>,
    impl hyper::service::HttpService<Incoming, ResBody = Body, Error = std::convert::Infallible, Future: Send> + use<>,
> {
    // small pages: do not hold them back to fill a packet
    drop(stream.set_nodelay(true));
    let service = service_fn(move |request: Request<Incoming>| {
        let mut request = request.map(Body::new);
        let from = if trusted_proxy { forwarded(request.headers(), peer) } else { peer };
        request.extensions_mut().insert(ConnectInfo(from));
        router.clone().oneshot(request)
    });
    http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(LONGEST_HEADERS)
        .max_headers(MOST_HEADERS)
        .max_buf_size(LARGEST_HEADERS)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(service))
}

/// The last address in `X-Forwarded-For`: the one our own proxy added, which a caller cannot forge.
fn forwarded(headers: &http::HeaderMap, peer: SocketAddr) -> SocketAddr {
    headers
        .get_all("x-forwarded-for")
        .iter()
        .next_back()
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.rsplit(',').next())
        .and_then(|address| address.trim().parse().ok())
        .map_or(peer, |address| SocketAddr::new(address, 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_address_added_by_our_own_proxy_is_believed() {
        let peer: SocketAddr = "127.0.0.1:4711".parse().expect("an address");
        let mut headers = http::HeaderMap::new();
        assert_eq!(forwarded(&headers, peer), peer);
        headers.insert("x-forwarded-for", "198.51.100.1, 192.0.2.7".parse().expect("a header"));
        assert_eq!(forwarded(&headers, peer).ip().to_string(), "192.0.2.7");
        headers.insert("x-forwarded-for", "somewhere".parse().expect("a header"));
        assert_eq!(forwarded(&headers, peer), peer);
    }
}
