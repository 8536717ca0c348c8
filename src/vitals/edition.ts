/**
 * The state of catalogue, rules and limits that this code judges and renders by. Every verdict and
 * every version names its edition; a change to any of them that could change what is published or
 * judged takes a new number, and the old rows stay for the versions that name the old one.
 */
export const EDITION = 1;
