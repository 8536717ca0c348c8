/** Reads a wristband with the camera, where the browser offers to detect barcodes. */
interface Detector {
  detect(image: HTMLVideoElement): Promise<readonly { readonly rawValue: string }[]>;
}
type DetectorClass = new () => Detector;

function detectorClass(): DetectorClass | null {
  const offered = (globalThis as { BarcodeDetector?: DetectorClass }).BarcodeDetector;
  return offered !== undefined && 'mediaDevices' in navigator ? offered : null;
}

export function canScan(): boolean {
  return detectorClass() !== null;
}

const LOOK_EVERY_MS = 200;

/** Shows the camera in `video` until a code is read or it is stopped. Null: no camera, or not allowed. */
export async function scanInto(
  video: HTMLVideoElement,
  onCode: (value: string) => void,
): Promise<(() => void) | null> {
  const Detecting = detectorClass();
  if (Detecting === null) return null;
  let stream: MediaStream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } });
  } catch {
    return null;
  }
  const detector = new Detecting();
  video.srcObject = stream;
  await video.play();
  const timer = setInterval(() => {
    detector.detect(video).then(
      ([first]) => {
        if (first !== undefined) onCode(first.rawValue);
      },
      // A frame that cannot be read is no fault; the next one may be.
      () => undefined,
    );
  }, LOOK_EVERY_MS);
  return () => {
    clearInterval(timer);
    for (const track of stream.getTracks()) track.stop();
    video.srcObject = null;
  };
}
