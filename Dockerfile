# Not built by the project's own tests (no container engine there); the package list below is the one .ci/run installs and tests.
FROM node:24-bookworm-slim AS build
RUN apt-get update && apt-get install -y --no-install-recommends python3 make g++ && rm -rf /var/lib/apt/lists/*
WORKDIR /opt/coilbook
COPY package.json package-lock.json .npmrc ./
RUN npm ci --no-audit --no-fund
COPY . .
RUN node scripts/build.mjs && npm prune --omit=dev

FROM node:24-bookworm-slim
RUN apt-get update \
 && apt-get install -y --no-install-recommends chromium-headless-shell fonts-dejavu-core tini \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --uid 10001 --create-home coilbook \
 && mkdir -p /lab /data && chown coilbook /lab /data
WORKDIR /opt/coilbook
COPY --from=build /opt/coilbook ./
ENV COILBOOK_LAB=/lab COILBOOK_DATA=/data NODE_ENV=production
USER coilbook
VOLUME ["/lab", "/data"]
ENTRYPOINT ["/usr/bin/tini", "--", "node", "/opt/coilbook/bin/coilbook.js"]
CMD ["work"]
