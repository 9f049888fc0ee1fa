namespace MeshTrace.Captures.Files;

/// <summary>The words with which a file is refused: what is wrong, where, what to do.</summary>
internal static class CaptureRefusal
{
    private const string Readable = "pcap, pcapng or BTSnoop, also packed with gzip";

    public static CaptureFormatException Missing(string file, Exception? inner) => new(
        file, CaptureFault.Missing, 0, "a file", $"there is no file '{file}': check the name and the directory it is looked for in", inner);

    public static CaptureFormatException Directory(string file) => new(
        file, CaptureFault.Directory, 0, "a file", $"'{file}' is a directory: name the capture files in it");

    public static CaptureFormatException Unreadable(string file, Exception? inner) => new(
        file, CaptureFault.Unreadable, 0, "a file that may be read",
        $"{Named(file)} cannot be read ({Reason(inner)}): check its permissions and that no other program holds it", inner);

    public static CaptureFormatException Empty(string file) => new(
        file, CaptureFault.Empty, 0, Readable, $"{Named(file)} is empty: was the recording saved, and is the copy complete?");

    public static CaptureFormatException Text(string file) => new(
        file, CaptureFault.Text, 0, Readable, $"{Named(file)} is text, not a capture: give the recording itself ({Readable}), or a log with octets in hexadecimal in its lines");

    /// <summary>As some editors and shells of Windows save it.</summary>
    public static CaptureFormatException TextOfTwoOctets(string file) => new(
        file, CaptureFault.Text, 0, Readable, $"{Named(file)} is text in UTF-16: if it is a log with octets in hexadecimal, save it as UTF-8");

    public static CaptureFormatException PackedOtherwise(string file) => new(
        file, CaptureFault.PackedOtherwise, 0, Readable,
        $"{Named(file)} is packed, but not with gzip: unpack it first, then give the capture in it");

    public static CaptureFormatException PackingDamaged(string file, string problem, Exception? inner) => new(
        file, CaptureFault.PackingDamaged, 0, "a gzip member",
        $"{Named(file)} begins like gzip, but {problem} before any capture: copy the file again", inner);

    public static CaptureFormatException NotACapture(string file, ReadOnlySpan<byte> start) => new(
        file, CaptureFault.NotACapture, 0, Readable,
        $"{Named(file)} is no capture that can be read (it begins with {Convert.ToHexString(start)}): save the recording as {Readable}");

    public static CaptureFormatException HeaderCut(string file, string format, int needed, OctetWindow input) => new(
        file, CaptureFault.BadHeader, input.Available.Length, FormattableString.Invariant($"a {format} file header of {needed} octets"),
        FormattableString.Invariant($"{Named(file)} begins like {format}, but its file header ends after {input.Available.Length} of {needed} octets: ")
        + (input.Problem ?? "the recording was not saved completely"), input.Error);

    public static CaptureFormatException BadHeader(string file, string format, long offset, string expected) => new(
        file, CaptureFault.BadHeader, offset, expected,
        FormattableString.Invariant($"{Named(file)} begins like {format}, but at octet {offset} it should have {expected}: the file is damaged"));

    public static CaptureFormatException Version(string file, string format, long offset, object found, string supported) => new(
        file, CaptureFault.UnsupportedVersion, offset, FormattableString.Invariant($"{format} version {supported}"),
        FormattableString.Invariant(
            $"{Named(file)} is {format} of version {found} (octet {offset}); version {supported} is read: save it again in that version"));

    public static CaptureFormatException Datalink(string file, uint datalink) => new(
        file, CaptureFault.UnsupportedDatalink, 12, "BTSnoop datalink 1001, 1002 or 2001",
        FormattableString.Invariant($"{Named(file)} is BTSnoop of datalink {datalink} (octet 12), which is not read; supported are ")
        + "1001 (HCI), 1002 (HCI UART, H4) and 2001 (host monitor): record with one of these");

    private static string Named(string file) => file == CaptureFile.StandardInput ? "standard input" : $"'{file}'";

    private static string Reason(Exception? inner) =>
        inner is UnauthorizedAccessException ? "no permission" : inner?.Message.TrimEnd('.') ?? "unknown reason";
}
