import type { Request, Response } from 'express';
import type { DatabaseState } from '../../store/probe.js';
import { jsonResponse, sendJson } from '../http/responses.js';
import type { Area, Route } from '../http/route.js';
import { docsRoute } from '../docs/route.js';
import { askOnce } from './ask-once.js';
import type { Metrics } from './metrics.js';
import type { OpenApiDocument } from './openapi-document.js';

/** The database must answer a probe within this. */
const READY_TIMEOUT_MS = 1_000;

export interface Operations {
  readonly metrics: Metrics;
  readonly probe: () => Promise<DatabaseState>;
  /** The OpenAPI document. */
  readonly document: () => OpenApiDocument;
}

const STATE = {
  type: 'object',
  required: ['status'],
  properties: {
    status: { type: 'string' },
    away: { type: 'array', items: { type: 'string' } },
  },
};

/** Asks the database once for all who ask meanwhile, and takes no answer in time for "away". */
function boundProbe(probe: Operations['probe']): Operations['probe'] {
  const ask = askOnce(probe);
  return async () => {
    let timer: NodeJS.Timeout | undefined;
    const late = new Promise<DatabaseState>((resolve) => {
      timer = setTimeout(resolve, READY_TIMEOUT_MS, 'away');
    });
    return Promise.race([ask(), late]).finally(() => {
      clearTimeout(timer);
    });
  };
}

function liveRoute(): Route {
  return {
    method: 'get',
    path: '/health/live',
    scopes: 'public',
    rateClass: 'none',
    summary: 'Is the process up?',
    responses: { 200: jsonResponse('It is.', STATE) },
    handler: (_req, res) => {
      sendJson(res, 200, { status: 'up' });
    },
  };
}

function readyRoute(probe: Operations['probe']): Route {
  const ask = boundProbe(probe);
  const away: Record<DatabaseState, string[]> = {
    ready: [],
    away: ['The database does not answer.'],
    'not-migrated': ['The database lacks the tables of this version: run npm run migrate.'],
  };
  return {
    method: 'get',
    path: '/health/ready',
    scopes: 'public',
    rateClass: 'none',
    summary: 'Can it take sets?',
    responses: {
      200: jsonResponse('It can.', STATE),
      503: jsonResponse('It cannot; `away` says what is missing.', STATE),
    },
    async handler(_req, res) {
      const state = await ask();
      res.setHeader('Cache-Control', 'no-store');
      if (state === 'ready') sendJson(res, 200, { status: 'ready' });
      else sendJson(res, 503, { status: 'not ready', away: away[state] });
    },
  };
}

function metricsRoute({ metrics }: Operations): Route {
  return {
    method: 'get',
    path: '/metrics',
    scopes: ['metrics.read'],
    summary: 'Figures of this process, in the Prometheus text format',
    responses: {
      200: {
        description: 'The figures.',
        content: { 'text/plain': { schema: { type: 'string' } } },
      },
    },
    audit: 'none',
    async handler(_req: Request, res: Response) {
      const text = await metrics.registry.metrics();
      res.setHeader('Content-Type', metrics.registry.contentType);
      res.end(text);
    },
  };
}

function documentRoute({ document }: Operations): Route {
  return {
    method: 'get',
    path: '/openapi.json',
    scopes: 'public',
    summary: 'This document (OpenAPI 3.1)',
    responses: { 200: jsonResponse('The document.', { type: 'object' }) },
    handler: (_req, res) => {
      sendJson(res, 200, document());
    },
  };
}

/** What operators and their machines look at. */
export function operationsArea(operations: Operations): Area {
  return {
    name: 'operations',
    description: 'Health, figures and this document',
    prefix: '/health',
    errorStyle: 'problem',
    routes: [
      liveRoute(),
      readyRoute(operations.probe),
      metricsRoute(operations),
      documentRoute(operations),
      docsRoute(operations.document),
    ],
  };
}
