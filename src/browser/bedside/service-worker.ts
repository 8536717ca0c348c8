/** Serves the bedside page when there is no network. */
export {};
