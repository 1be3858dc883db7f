# One image for web, workers and scheduler; docker-compose.yml says which part each container runs.
FROM python:3.11-slim AS build
WORKDIR /app
COPY requirements.lock ./
RUN python -m venv /venv \
    && /venv/bin/python -m pip install --no-cache-dir --require-hashes --only-binary :all: -r requirements.lock

FROM python:3.11-slim
# What the PDF library loads, and the user that owns nothing but its data.
RUN apt-get update \
    && apt-get install -y --no-install-recommends \
        fonts-dejavu-core libharfbuzz-subset0 libpango-1.0-0 libpangoft2-1.0-0 tini \
    && rm -rf /var/lib/apt/lists/* \
    && useradd --uid 10001 --no-create-home --shell /usr/sbin/nologin siltline \
    && install -d -o siltline -g siltline -m 0700 /data
COPY --from=build /venv /venv
WORKDIR /app
COPY . .
RUN /venv/bin/python -m compileall -q .
ENV PATH=/venv/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    PYTHONTZPATH="" \
    SILTLINE_VAR=/data \
    SILTLINE_BIND=0.0.0.0 \
    SILTLINE_PORT=8000 \
    SILTLINE_DEMO=0
USER siltline
VOLUME /data
EXPOSE 8000
STOPSIGNAL SIGTERM
ENTRYPOINT ["tini", "--"]
CMD ["python", "manage.py", "serve", "--prepare"]
