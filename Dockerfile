# syntax=docker/dockerfile:1

# Everything that building needs stays behind in this stage.
FROM node:22-bookworm-slim AS build
WORKDIR /app
COPY package.json package-lock.json ./
RUN npm ci --no-audit --no-fund
COPY tsconfig.json build.config.mjs ./
COPY src ./src
RUN npm run build

FROM node:22-bookworm-slim
ENV NODE_ENV=production
WORKDIR /app
COPY package.json package-lock.json ./
# Without optional packages there is no embedded database: a container gets DATABASE_URL.
RUN npm ci --omit=dev --omit=optional --no-audit --no-fund && npm cache clean --force
COPY --from=build /app/dist ./dist
COPY migrations ./migrations
COPY schemas ./schemas

# All addresses of the container: so TRUSTED_PROXY or HTTP_TLS_CERT and HTTP_TLS_KEY must be set.
ENV HOST=0.0.0.0 PORT=8080
EXPOSE 8080
USER node

# Over loopback the certificate's name cannot match, and liveness is no matter of trust.
HEALTHCHECK --interval=10s --timeout=3s --start-period=20s --retries=3 \
  CMD ["node", "-e", "process.env.NODE_TLS_REJECT_UNAUTHORIZED='0'; const s=process.env.HTTP_TLS_CERT?'s':''; fetch(`http${s}://127.0.0.1:${process.env.PORT}/health/live`).then((r)=>process.exit(r.ok?0:1),()=>process.exit(1))"]

CMD ["node", "--max-semi-space-size=64", "--enable-source-maps", "dist/main.js"]
