/** What this device remembers of how the page is used. Nothing of any patient. */
import { chooseLanguage, isLanguage, type Language } from '../words/say.js';
import type { SenseChoices } from './sounds.js';

export interface Preferences extends SenseChoices {
  readonly language: Language;
}

const KEY = 'bedside-preferences';

export function readPreferences(): Preferences {
  const first: Preferences = {
    sound: true,
    vibration: true,
    ticks: false,
    language: chooseLanguage(navigator.languages),
  };
  try {
    const kept = JSON.parse(localStorage.getItem(KEY) ?? '{}') as Partial<Preferences>;
    return {
      sound: kept.sound ?? first.sound,
      vibration: kept.vibration ?? first.vibration,
      ticks: kept.ticks ?? first.ticks,
      language: languageOf(kept.language) ?? first.language,
    };
  } catch {
    return first;
  }
}

export function keepPreferences(preferences: Preferences): void {
  try {
    localStorage.setItem(KEY, JSON.stringify(preferences));
  } catch {
    // Full or denied: it is asked again next time.
  }
}

function languageOf(kept: string | undefined): Language | null {
  return kept !== undefined && isLanguage(kept) ? kept : null;
}
