/** The bare limit (a): an Express route that parses the same bodies and answers the same answers. */
import { readFileSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import express from 'express';

const answer: unknown = JSON.parse(readFileSync(0, 'utf8'));
const app = express();
app.post('/sets', express.json({ limit: '256kb' }), (_req, res) => {
  res.status(201).json(answer);
});
const server = app.listen(0, '127.0.0.1', () => {
  process.stdout.write(`${(server.address() as AddressInfo).port}\n`);
});
