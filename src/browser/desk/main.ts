/** What the desk's pages do in the browser beyond links and forms. They work without it. */
export {};
