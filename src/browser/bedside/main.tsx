/** The bedside page. */
export {};
