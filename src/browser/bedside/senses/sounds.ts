/** What is heard and felt while a person counts: the end, taps and ticks. Each can be off. */
export interface SenseChoices {
  readonly sound: boolean;
  readonly vibration: boolean;
  readonly ticks: boolean;
}

let context: AudioContext | null = null;

/** Browsers let a page sound only after a touch: to be called in one. */
export function prepareSound(): void {
  try {
    context ??= new AudioContext();
    void context.resume();
  } catch {
    context = null;
  }
}

function beep(hertz: number, forMs: number, loudness: number, afterMs = 0): void {
  if (context === null) return;
  const from = context.currentTime + afterMs / 1000;
  const to = from + forMs / 1000;
  const tone = context.createOscillator();
  const volume = context.createGain();
  tone.frequency.value = hertz;
  volume.gain.setValueAtTime(loudness, from);
  volume.gain.setTargetAtTime(0, to - 0.02, 0.01);
  tone.connect(volume).connect(context.destination);
  tone.start(from);
  tone.stop(to + 0.05);
}

function shake(pattern: number | number[]): void {
  if ('vibrate' in navigator) navigator.vibrate(pattern);
}

/** Time is up: two tones upwards and a long shake, told apart from everything before. */
export function signalEnd({ sound, vibration }: SenseChoices): void {
  if (sound) {
    beep(880, 180, 0.4);
    beep(1320, 320, 0.4, 220);
  }
  if (vibration) shake([250, 100, 400]);
}

export function signalTap({ vibration }: SenseChoices): void {
  if (vibration) shake(25);
}

/** Every five seconds, softly, for those who want to know how far it is. */
export function signalTick({ sound, vibration, ticks }: SenseChoices): void {
  if (!ticks) return;
  if (sound) beep(520, 60, 0.12);
  if (vibration) shake(60);
}
