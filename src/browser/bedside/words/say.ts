/** Words of the page in the language chosen: a key and what is put into its gaps. */
import { ENGLISH, type MessageKey } from './english.js';
import { GERMAN } from './german.js';

export const LANGUAGES = { en: 'English', de: 'Deutsch' } as const;
export type Language = keyof typeof LANGUAGES;

export type Gaps = Readonly<Record<string, string | number>>;
export type Say = (key: MessageKey, gaps?: Gaps) => string;

const MESSAGES: Readonly<Record<Language, Readonly<Record<MessageKey, string>>>> = {
  en: ENGLISH,
  de: GERMAN,
};

export function isLanguage(word: string): word is Language {
  return word in LANGUAGES;
}

/** The first of the browser's languages that there is; else English. */
export function chooseLanguage(wanted: readonly string[]): Language {
  const found = wanted.map((tag) => tag.slice(0, 2).toLowerCase()).find(isLanguage);
  return found ?? 'en';
}

export function sayIn(language: Language): Say {
  const messages = MESSAGES[language];
  return (key, gaps = {}) =>
    messages[key].replaceAll(/\{(\w+)\}/g, (gap, name: string) => String(gaps[name] ?? gap));
}
