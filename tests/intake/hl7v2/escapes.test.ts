import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { bytesOf, headerOf } from './messages.js';

/** NTE-3 of a message, its bytes a character each. */
function note(raw: string, header = headerOf()) {
  return parseMessage(bytesOf(header, `NTE|1||${raw}`))
    .segments[1]?.field(3)
    .repetition(1)
    .component(1);
}

// HL7 v2.9.1 §2.6: the sequences of its list, §2.6.5 to §2.6.8; the texts are our own.
describe('escape sequences', () => {
  it.each([
    ['field separator', 'SpO2 97 \\F\\94 - 100\\F\\', 'SpO2 97 |94 - 100|'],
    ['component separator', '\\S\\----\\S\\', '^----^'],
    ['subcomponent separator', 'Hill \\T\\ Dale', 'Hill & Dale'],
    ['repetition separator', 'a\\R\\b', 'a~b'],
    ['escape character', 'C:\\E\\ward', 'C:\\ward'],
    ['hexadecimal', 'a\\X41\\\\X0D0A\\b', 'aA\r\nb'],
    ['hexadecimal in small letters', '\\X4a\\', 'J'],
    ['decoded once', '\\E\\T\\E\\', '\\T\\'],
    ['decoded once from hexadecimal', '\\X5C\\T\\X5C\\', '\\T\\'],
    ['left to right', '\\F\\S\\F\\', '|S|'],
    ['unknown', 'a\\Q\\b', 'a\\Q\\b'],
    ['local', 'a\\Z12\\b', 'a\\Z12\\b'],
    ['of another character set', 'a\\C2D41\\b\\M2442\\', 'a\\C2D41\\b\\M2442\\'],
    ['hexadecimal with an odd digit', '\\X414\\', '\\X414\\'],
    ['hexadecimal without digits', '\\X\\', '\\X\\'],
    ['hexadecimal with others', '\\X4G\\', '\\X4G\\'],
    ['not closed', 'a\\F', 'a\\F'],
    ['not closed after others', '\\F\\a\\', '|a\\'],
    ['empty', 'a\\\\b', 'a\\\\b'],
    ['in small letters', '\\f\\', '\\f\\'],
    ['of formatted text, in a text that is not', 'a\\.br\\b\\H\\c\\N\\', 'a\\.br\\b\\H\\c\\N\\'],
  ])('%s', (_, raw, text) => {
    expect(note(raw)?.text).toBe(text);
  });

  it.each([
    ['line break', 'one\\.br\\two', 'one\ntwo'],
    ['highlighting', '\\H\\40.1*\\N\\ high', '40.1* high'],
    ['others of formatted text', '\\.in+4\\a\\.sp 2\\', '\\.in+4\\a\\.sp 2\\'],
    ['those of any text', 'a\\F\\b', 'a|b'],
  ])('in formatted text: %s', (_, raw, text) => {
    expect(note(raw)?.formattedText).toBe(text);
  });

  it('never make separators of what they decode', () => {
    const bytes = bytesOf(headerOf(), 'NTE|1||a\\F\\b\\S\\c\\R\\d\\T\\e\\X0D\\OBX\\X7C\\f|RE');
    const message = parseMessage(bytes);
    const field = message.segments[1]?.field(3);
    expect(message.segments).toHaveLength(2);
    expect(field?.repetitions).toHaveLength(1);
    expect(field?.repetition(1).components).toHaveLength(1);
    expect(field?.text).toBe('a|b^c~d&e\rOBX|f');
    expect(message.segments[1]?.text(4)).toBe('RE');
  });

  it('may name the bytes of one character one by one, where they make one', () => {
    const utf8 = headerOf({ 18: 'UNICODE UTF-8' });
    expect(note('Andr\\XC3\\\\XA9\\', utf8)?.text).toBe('André');
    expect(note('Andr\\XC3A9\\', utf8)?.text).toBe('André');
    expect(note('Andr\\XE9\\', headerOf({ 18: '8859/1' }))?.text).toBe('André');
    expect(note('Andr\\XE9\\ M\xc3\xbcller', utf8)?.text).toBe('Andr\\XE9\\ Müller');
  });
});
