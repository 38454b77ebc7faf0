"""Checks the container files without a container engine: what they promise, and that they agree.

Dockerfile and compose file say the same about user, port, volume and health; the files that the
build may see are all that the crate is made from.
"""

import pathlib
import re
import sys

import yaml

ROOT = pathlib.Path(__file__).resolve().parents[2]
dockerfile = (ROOT / "docker/Dockerfile").read_text()
compose = yaml.safe_load((ROOT / "docker/compose.yaml").read_text())
final = dockerfile[dockerfile.rindex("\nFROM ") :]

faults = []


def holds(claim, truth):
    if not truth:
        faults.append(claim)


user = re.search(r"^USER (\d+):(\d+)$", final, re.M)
holds("the image runs as a number that is not root", user and user[1] != "0" and user[2] != "0")
holds("the image has one volume, /data", re.findall(r"^VOLUME (.+)$", final, re.M) == ["/data"])
holds("the database lies in the volume", "SHIMLIGHT_DATABASE=/data/" in final)
holds("the folder of the volume belongs to that user", user and f"--chown={user[1]}:{user[2]} /out/data /data" in final)
holds("the health check is the program itself", 'CMD ["/shimlight", "health"]' in final)
holds("it is stopped in an orderly way", "STOPSIGNAL SIGTERM" in final)

service = compose["services"]["shimlight"]
port = re.search(r"^EXPOSE (\d+)$", final, re.M)[1]
holds("compose publishes the port of the image", [p.split(":")[-1] for p in service["ports"]] == [port])
holds("compose keeps the one volume", [v.split(":")[1] for v in service["volumes"]] == ["/data"])
holds("compose names the volume", service["volumes"][0].split(":")[0] in compose["volumes"])
holds("compose builds this Dockerfile", service["build"]["dockerfile"] == "docker/Dockerfile")
holds("compose takes away what is not needed", service["read_only"] and service["cap_drop"] == ["ALL"])

seen = {line[1:] for line in (ROOT / "docker/Dockerfile.dockerignore").read_text().split() if line.startswith("!")}
embedded = set(re.findall(r'#\[folder = "([^"/]+)', "".join(p.read_text() for p in (ROOT / "src").rglob("*.rs"))))
needed = {"Cargo.toml", "Cargo.lock", "build.rs", "sqlx.toml", "migrations", "src", "templates"} | embedded
holds(f"the build sees {sorted(needed)}", needed <= seen)
for name in seen:
    holds(f"{name} is there", (ROOT / name).exists())

told = set(re.findall(r"SHIMLIGHT_[A-Z_]+", dockerfile)) | set(service["environment"])
known = set(re.findall(r"SHIMLIGHT_[A-Z_]+", "".join(p.read_text() for p in (ROOT / "src").rglob("*.rs"))))
holds(f"the program knows {sorted(told)}", told <= known)

for fault in faults:
    print(f"docker/: not so: {fault}")
print(f"container files: {'sound' if not faults else f'{len(faults)} faults'}")
sys.exit(bool(faults))
