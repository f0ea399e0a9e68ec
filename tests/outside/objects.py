#!/usr/bin/env python3
"""A store of objects that speaks S3, for tests: moto, a general-purpose server from PyPI.

It listens on a free port of this computer, prints that port, and serves until it is ended. Requests are served one
at a time, so that a conditional create (If-None-Match: *) is one: moto itself looks and then writes, and two threads
could both look first. moto takes any signature; so each is worked out here a second time, from AWS Signature Version
4 (query string form), with nothing but the standard library, and a wrong one is answered with 403.

    objects.py SECRET BUCKET [BUCKET-WITH-LOCKS]
"""

import datetime
import hashlib
import hmac
import sys
import time
from urllib.parse import parse_qsl, quote

from moto.server import DomainDispatcherApplication, create_backend_app
from werkzeug.serving import make_server
from werkzeug.test import Client


def signature(environ, secret):
    """The signature that the query of a request should have, and the one it has."""
    query = parse_qsl(environ["QUERY_STRING"], keep_blank_values=True)
    given = dict(query)
    scope = given["X-Amz-Credential"].split("/", 1)[1]
    headers = given["X-Amz-SignedHeaders"].split(";")

    def value(name):
        if name == "host":
            return environ["HTTP_HOST"]
        return environ.get("HTTP_" + name.upper().replace("-", "_"), "")

    encoded = sorted((quote(k, safe="-_.~"), quote(v, safe="-_.~")) for k, v in query if k != "X-Amz-Signature")
    path = quote(environ["PATH_INFO"], safe="/-_.~")
    canonical = "\n".join(
        [
            environ["REQUEST_METHOD"],
            path,
            "&".join(f"{k}={v}" for k, v in encoded),
            "".join(f"{name}:{value(name).strip()}\n" for name in headers),
            ";".join(headers),
            "UNSIGNED-PAYLOAD",
        ]
    )
    digest = hashlib.sha256(canonical.encode()).hexdigest()
    text = "\n".join(["AWS4-HMAC-SHA256", given["X-Amz-Date"], scope, digest])
    key = ("AWS4" + secret).encode()
    for part in scope.split("/"):
        key = hmac.new(key, part.encode(), hashlib.sha256).digest()
    made = datetime.datetime.strptime(given["X-Amz-Date"], "%Y%m%dT%H%M%SZ").replace(tzinfo=datetime.timezone.utc)
    old = time.time() - made.timestamp() > float(given["X-Amz-Expires"])
    return hmac.new(key, text.encode(), hashlib.sha256).hexdigest(), "" if old else given["X-Amz-Signature"]


class Checked:
    """moto behind the check of each signature."""

    def __init__(self, app, secret):
        self.app, self.secret = app, secret

    def __call__(self, environ, start_response):
        try:
            wanted, given = signature(environ, self.secret)
        except (KeyError, IndexError, ValueError):
            wanted, given = "a signature", ""
        if wanted != given:
            start_response("403 Forbidden", [("Content-Type", "application/xml")])
            return [b"<Error><Code>SignatureDoesNotMatch</Code></Error>"]
        return self.app(environ, start_response)


def main():
    secret, *buckets = sys.argv[1:]
    app = DomainDispatcherApplication(create_backend_app)
    inside = Client(app)
    # moto tells the service by the scope of a signature; here it is not looked at any further.
    who = {"Authorization": "AWS4-HMAC-SHA256 Credential=x/20260101/us-east-1/s3/aws4_request, SignedHeaders=host, Signature=0"}
    for number, bucket in enumerate(buckets):
        more = {"x-amz-bucket-object-lock-enabled": "true"} if number else {}
        made = inside.put(f"/{bucket}", base_url="http://127.0.0.1", headers={**who, **more})
        assert made.status_code == 200, made.data
    server = make_server("127.0.0.1", 0, Checked(app, secret), threaded=False)
    print(server.server_port, flush=True)
    server.serve_forever()


if __name__ == "__main__":
    main()
