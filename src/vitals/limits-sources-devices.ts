/** Where rules about messages of devices, their clocks and whose they are come from. */
import type { Source, Standing } from './limits-sources.js';

const source = (
  document: string,
  section: string,
  year: number | null,
  standing: Standing = 'read',
): Source => ({ document, section, year, standing });

const IHE_DEVICES = 'IHE Devices Technical Framework vol. 2, Revision 10.0';
const HL7_V2 = 'HL7 v2.9.1';

// What was measured

export const DEVICE_CODES = source(IHE_DEVICES, 'Appendix A.1, codes and their names', 2024);
export const TEST_MARKS = source(
  IHE_DEVICES,
  'Tables B.8.5-5 to B.8.5-9, TEST and DEMO; HL7 table 0103',
  2024,
);
export const WAYS_OF_OBSERVING = source(IHE_DEVICES, 'Appendix B, OBX-17', 2024);
export const TYPED_ADMISSION_DATA = source(
  'IHE SDPi 2.5',
  'R8001, weight and height as attributes of the device',
  2026,
);
export const RESULT_STATUS = source(IHE_DEVICES, 'Table B.8.5-11, OBX-11', 2024);
export const CONTAINMENT = source(IHE_DEVICES, 'Appendix B.8, OBX-4 is unique in its OBR', 2024);
export const BODY_SITE = source(IHE_DEVICES, 'Appendix B, OBX-20', 2024);
export const NUMBER_FORM = source(HL7_V2, 'chapter 2A, NM', 2023);
export const CHARACTER_SET = source(HL7_V2, 'chapter 2, MSH-18; table 0211', 2023);
export const CONTROL_ID = source(HL7_V2, 'chapter 2, MSH-10', 2023);
export const MEASUREMENT_STATUS = source(
  'HL7 Point-of-Care Device Implementation Guide',
  'OBX-8 and measurement status',
  2026,
);

// When

export const TIME_ZONE = source(IHE_DEVICES, 'C.4 and B.8.7, the zone of a time', 2024);
export const TIME_OF_METRIC = source(IHE_DEVICES, 'Appendix B, OBR-7 and OBX-14', 2024);
export const CLOCK_STEPS = source(IHE_DEVICES, 'B.8.7 b, no step inside an interval', 2024);
/** A clock that nothing synchronises counts as good to ± 300 s there. */
export const CLOCK_ACCURACY = source(IHE_DEVICES, 'B.8.9, default accuracy', 2024);
export const CLOCK_PAIRS = source(
  IHE_DEVICES,
  'MDC_ATTR_TIME_ABS (67975), the device’s time beside its reporter’s',
  2024,
  'proposed',
);

// Whose

export const IDENTITY_UNKNOWN = source(HL7_V2, 'chapter 3, PID-31', 2024);
export const ASSIGNING_AUTHORITY = source(IHE_DEVICES, 'Appendix B, PID-3, CX.4', 2024);
export const ASSOCIATIONS = source(
  'IHE Devices supplement Point-of-Care Identity Management, Revision 2.3',
  'device-patient associations',
  2025,
);
/** On those grounds: that supplement names incomplete disassociation as the key risk, and no length. */
export const STALE_BUFFER = source(
  'IHE Devices supplement Point-of-Care Identity Management, Revision 2.3',
  'device-patient associations',
  2025,
  'proposed',
);
export const DEVICE_REGISTRATION = source(
  'Published contract of this gateway',
  'registration of devices',
  null,
);
