# The service in one image: `serve` for the pages and the API, `work` for what follows an upload.
FROM python:3.12-slim AS build
WORKDIR /srv/riseline
COPY requirements.lock pyproject.toml README.md ./
RUN python -m venv .venv \
 && .venv/bin/pip install --no-cache-dir --require-hashes -r requirements.lock
COPY service service
RUN .venv/bin/pip install --no-cache-dir --no-deps --no-build-isolation --editable .

FROM python:3.12-slim
# pg_dump for `riseline backup`
RUN apt-get update && apt-get install -y --no-install-recommends postgresql-client \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --system --create-home --uid 10001 riseline \
 && mkdir -p /srv/riseline/var && chown riseline /srv/riseline/var
WORKDIR /srv/riseline
COPY --from=build /srv/riseline/.venv .venv
COPY pyproject.toml README.md ./
COPY service service
COPY migrations migrations
COPY web web
ENV PATH=/srv/riseline/.venv/bin:$PATH PYTHONUNBUFFERED=1 \
    RISELINE_HOST=0.0.0.0 RISELINE_PORT=8321 RISELINE_FILES=/srv/riseline/var/files
USER riseline
VOLUME /srv/riseline/var
EXPOSE 8321
HEALTHCHECK --interval=15s --timeout=5s --start-period=20s \
  CMD ["python", "-c", "import urllib.request as u; u.urlopen('http://127.0.0.1:8321/sign-in', timeout=4)"]
CMD ["riseline", "serve"]
