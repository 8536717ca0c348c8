import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { usePage } from '../parts/page-context.js';
import { scanInto } from '../senses/scan-code.js';

/** The camera's picture until a code is read. */
export function Scanner({ onCode }: { onCode: (value: string) => void }): JSX.Element {
  const { say } = usePage();
  const video = useRef<HTMLVideoElement>(null);
  const [failed, setFailed] = useState(false);
  const told = useRef(onCode);
  told.current = onCode;
  useEffect(() => {
    if (video.current === null) return;
    let over = false;
    let stop: (() => void) | null = null;
    void scanInto(video.current, (value) => {
      if (!over) told.current(value);
    }).then((stopping) => {
      stop = stopping;
      if (stopping === null) setFailed(true);
      else if (over) stopping();
    });
    return () => {
      over = true;
      stop?.();
    };
  }, []);
  return failed ? (
    <p class="notice" role="status">
      {say('who.no-camera')}
    </p>
  ) : (
    <video ref={video} class="scanner" aria-label={say('who.camera')} muted playsInline />
  );
}
