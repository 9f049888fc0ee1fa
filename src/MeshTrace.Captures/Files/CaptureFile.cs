using System.Buffers.Binary;
using System.Diagnostics.CodeAnalysis;
using MeshTrace.Captures.Alignment;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Text;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>Opens capture files: pcap, pcapng and BTSnoop, recognised by their content, as they are or packed with gzip.</summary>
/// <remarks>
/// Only opening throws. Damage further on is told by <see cref="IFrameSource.Damage"/>: all frames before it are given, and a last frame
/// that is cut is given with <see cref="CapturedFrame.IsCut"/>.
/// </remarks>
public static class CaptureFile
{
    /// <summary>The path that means standard input.</summary>
    public const string StandardInput = "-";

    private const int LongestMagic = 8;
    private const int TextSample = 512, TextLogSample = 64 * 1024;

    /// <summary>Opens a file, or standard input where the path is "-".</summary>
    /// <param name="path">Path of the file.</param>
    /// <param name="firstReceiver">Number of its first receiver.</param>
    /// <exception cref="CaptureFormatException">The file cannot be opened or is no capture.</exception>
    public static IFrameSource Open(string path, int firstReceiver = 0) => OpenSource(path, firstReceiver);

    /// <summary>Reads from a stream from where it stands, and owns it.</summary>
    /// <param name="stream">The capture; disposed with the source, and when opening fails.</param>
    /// <param name="name">Name to tell in messages and in <see cref="ReceiverDescription.File"/>.</param>
    /// <param name="firstReceiver">Number of its first receiver.</param>
    /// <exception cref="CaptureFormatException">The stream holds no capture.</exception>
    public static IFrameSource Open(Stream stream, string name, int firstReceiver = 0)
    {
        ArgumentNullException.ThrowIfNull(stream);
        return Recognise(stream, name, firstReceiver);
    }

    /// <summary>Reads from a stream that grows while it is read: it waits for what is not there yet, so nothing is asked for that is not needed.</summary>
    /// <exception cref="CaptureFormatException">The stream holds no capture, or ended before anything was in it.</exception>
    internal static CaptureFileSource OpenGrowing(Stream stream, string name) => Recognise(stream, name, 0, growing: true);

    /// <summary>Opens several files as one source, in the order of time; receivers are numbered over all of them.</summary>
    /// <returns>For several paths a <see cref="CaptureMerge"/>, which goes on with the others when one is damaged.</returns>
    /// <exception cref="CaptureFormatException">One of the files cannot be opened or is no capture; all are opened at once, so that this
    /// is told before the work.</exception>
    public static IFrameSource OpenAll(IReadOnlyList<string> paths)
    {
        ArgumentNullException.ThrowIfNull(paths);
        if (paths.Count == 1)
            return Open(paths[0]);
        var opened = new List<CaptureFileSource>(paths.Count);
        try
        {
            foreach (string path in paths)
                opened.Add(OpenSource(path, 0));
        }
        catch (CaptureFormatException)
        {
            foreach (CaptureFileSource source in opened)
                source.Dispose();
            throw;
        }

        return new CaptureMerge(opened);
    }

    /// <summary>
    /// As <see cref="OpenAll"/>, with the clocks of the receivers aligned by the transmissions that several heard; times are then in the clock of the first
    /// file's first receiver. The files are read through once before, unless there is one receiver only. What cannot be read twice (standard input, pipes)
    /// keeps the clocks as they are; <see cref="ReceiverDescription.Clock"/> tells.
    /// </summary>
    /// <param name="paths">The files.</param>
    /// <param name="given">Offsets that the user knows.</param>
    /// <param name="unknown">Gets the names of those that fit no receiver.</param>
    /// <param name="progress">Told position and length in octets of the first reading now and then.</param>
    /// <param name="stop">Stops the first reading: what it saw until then is used.</param>
    /// <exception cref="CaptureFormatException">One of the files cannot be opened or is no capture.</exception>
    [SuppressMessage("Reliability", "CA2000", Justification = "What is opened first is given back or disposed; the exception path is in 'finally'.")]
    public static IFrameSource OpenAligned(IReadOnlyList<string> paths, IReadOnlyList<ReceiverOffset>? given = null, ICollection<string>? unknown = null,
        Action<long, long?>? progress = null, CancellationToken stop = default)
    {
        IFrameSource plain = OpenAll(paths);
        IReadOnlyList<Func<IFrameSource>> files = [.. paths.Select(path => new Func<IFrameSource>(() => OpenSource(path, 0)))];
        ReceiverAlignment? alignment = null;
        try
        {
            alignment = paths.All(CanBeReadTwice) ? ReceiverAlignment.Of(files, given ?? [], plain.Length, progress, stop) : ReceiverAlignment.OfOneReading(given ?? []);
        }
        finally
        {
            if (alignment is null)
                plain.Dispose();
        }
        foreach (string name in alignment.Unknown)
            unknown?.Add(name);
        if (alignment.IsNeedless)
            return plain;
        if (alignment.OneReading)
            return new AlignedSource(plain, alignment.Files[0], everyReceiver: true);
        plain.Dispose();
        return Open(files, alignment);
    }

    /// <summary>As <see cref="OpenAligned(IReadOnlyList{string}, IReadOnlyList{ReceiverOffset}?, ICollection{string}?, Action{long, long?}?, CancellationToken)"/>, of
    /// inputs that are remembered and can be gone through as often as wanted.</summary>
    /// <param name="logs">The inputs.</param>
    /// <param name="given">Offsets that the user knows.</param>
    /// <param name="unknown">Gets the names of those that fit no receiver.</param>
    /// <param name="stop">Stops the comparison: what it saw until then is used.</param>
    public static IFrameSource OpenAligned(IReadOnlyList<FrameLog> logs, IReadOnlyList<ReceiverOffset>? given = null, ICollection<string>? unknown = null, CancellationToken stop = default)
    {
        ArgumentNullException.ThrowIfNull(logs);
        var alignment = ReceiverAlignment.Of([.. logs.Select(log => new Func<IFrameSource>(log.Open))], given ?? [], null, null, stop);
        foreach (string name in alignment.Unknown)
            unknown?.Add(name);
        return alignment.IsNeedless ? OpenAsTheyAre(logs) : Open([.. logs.Select(log => new Func<IFrameSource>(log.Open))], alignment);
    }

    /// <summary>Remembered inputs with their clocks as they are, in the order of time.</summary>
    public static IFrameSource OpenAsTheyAre(IReadOnlyList<FrameLog> logs)
    {
        ArgumentNullException.ThrowIfNull(logs);
        return logs.Count == 1 ? logs[0].Open() : new CaptureMerge([.. logs.Select(log => log.Open())]);
    }

    /// <summary>A pipe has no length, and what was read of it is gone.</summary>
    private static bool CanBeReadTwice(string path) => path != StandardInput && new FileInfo(path) is { Exists: true, Length: > 0 };

    [SuppressMessage("Reliability", "CA2000", Justification = "Each lane owns its file, and the source that is returned owns the lanes.")]
    private static IFrameSource Open(IReadOnlyList<Func<IFrameSource>> files, ReceiverAlignment alignment)
    {
        var lanes = new List<IFrameSource>(files.Count);
        try
        {
            for (int file = 0; file < files.Count; file++)
                lanes.Add(new AlignedSource(files[file](), alignment.Files[file]));
        }
        catch (CaptureFormatException)
        {
            foreach (IFrameSource lane in lanes)
                lane.Dispose();
            throw;
        }
        return lanes.Count == 1 ? lanes[0] : new CaptureMerge(lanes);
    }

    internal static CaptureFileSource OpenSource(string path, int firstReceiver) => Recognise(OpenStream(path), path, firstReceiver);

    [SuppressMessage("Reliability", "CA2000",
        Justification = "Each stream is owned by the next, and the last by the source that is returned.")]
    private static CaptureFileSource Recognise(Stream stream, string name, int firstReceiver, bool growing = false)
    {
        OctetWindow? input = null;
        try
        {
            input = new OctetWindow(stream, growing);
            input.Fill(LongestMagic);
            if (input.Available is [0x1F, 0x8B, ..])
            {
                Stream packed = new GzipInput(new ReplayStream(input.Available.ToArray(), stream));
                input = new OctetWindow(packed, growing);
                if (!input.Fill(LongestMagic) && input.Problem is { } problem)
                    throw CaptureRefusal.PackingDamaged(name, problem, input.Error);
            }

            return RecogniseFormat(input, name, firstReceiver);
        }
        catch (CaptureFormatException)
        {
            input?.Dispose();
            throw;
        }
    }

    internal static Stream OpenStream(string path)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);
        if (path == StandardInput)
            return Console.OpenStandardInput();
        if (Directory.Exists(path))
            throw CaptureRefusal.Directory(path);
        try
        {
            // Shared with a recorder that is still writing; without a buffer of its own, because the window is one.
            const FileShare sharing = FileShare.ReadWrite | FileShare.Delete;
            return new FileStream(path, FileMode.Open, FileAccess.Read, sharing, bufferSize: 0, FileOptions.SequentialScan);
        }
        catch (Exception e) when (e is FileNotFoundException or DirectoryNotFoundException)
        {
            throw CaptureRefusal.Missing(path, e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw CaptureRefusal.Unreadable(path, e);
        }
    }

    private static CaptureFileSource RecogniseFormat(OctetWindow input, string name, int firstReceiver)
    {
        ReadOnlySpan<byte> start = input.Available;
        if (start.Length < 4)
        {
            if (input.Error != null)
                throw CaptureRefusal.Unreadable(name, input.Error);
            throw start.IsEmpty ? CaptureRefusal.Empty(name) : Unknown(input, name);
        }

        if (start.StartsWith(BtSnoopFormat.Magic))
            return BtSnoopSource.Open(input, name, firstReceiver);
        return BinaryPrimitives.ReadUInt32BigEndian(start) switch
        {
            0xA1B2C3D4 => PcapSource.Open(input, name, firstReceiver, bigEndian: true, nanoseconds: false),
            0xD4C3B2A1 => PcapSource.Open(input, name, firstReceiver, bigEndian: false, nanoseconds: false),
            0xA1B23C4D => PcapSource.Open(input, name, firstReceiver, bigEndian: true, nanoseconds: true),
            0x4D3CB2A1 => PcapSource.Open(input, name, firstReceiver, bigEndian: false, nanoseconds: true),
            PcapNgFormat.SectionHeaderBlock => PcapNgSource.Open(input, name, firstReceiver),
            _ => RecogniseText(input, name, firstReceiver) ?? throw Unknown(input, name),
        };
    }

    /// <summary>A text with octets in one of its first lines; no text that is a document by its first character.</summary>
    private static TextLogSource? RecogniseText(OctetWindow input, string name, int firstReceiver)
    {
        if (input.IsGrowing)
            FillToOctets(input);
        else
            input.Fill(TextLogSample);
        ReadOnlySpan<byte> start = input.Available[..Math.Min(input.Available.Length, TextLogSample)];
        ReadOnlySpan<byte> trimmed = start.TrimStart(" \t\r\n"u8);
        return IsText(start[..Math.Min(start.Length, TextSample)]) && trimmed is not [(byte)'{', ..] and not [(byte)'<', not ((byte)'-' or (byte)'<' or (byte)'='), ..] && TextLogSource.HasOctets(start)
            ? TextLogSource.Open(input, name, firstReceiver) : null;
    }

    /// <summary>Of a log that is being written, its first whole line with octets is enough.</summary>
    private static void FillToOctets(OctetWindow input)
    {
        while (input.Available.Length < TextLogSample)
        {
            ReadOnlySpan<byte> start = input.Available;
            int lines = start.LastIndexOf((byte)'\n');
            if (!IsText(start[..Math.Min(start.Length, TextSample)]) || (lines > 0 && TextLogSource.HasOctets(start[..lines])) || !input.Fill(start.Length + 1))
                return;
        }
    }

    private static CaptureFormatException Unknown(OctetWindow input, string name)
    {
        if (!input.IsGrowing)
            input.Fill(TextSample);
        ReadOnlySpan<byte> start = input.Available;
        if (IsPackedOtherwise(start))
            return CaptureRefusal.PackedOtherwise(name);
        if (start.StartsWith<byte>([0xFF, 0xFE]) || start.StartsWith<byte>([0xFE, 0xFF]))
            return CaptureRefusal.TextOfTwoOctets(name);
        start = start[..Math.Min(start.Length, TextSample)];
        return IsText(start) ? CaptureRefusal.Text(name) : CaptureRefusal.NotACapture(name, start[..Math.Min(start.Length, LongestMagic)]);
    }

    /// <summary>First octets of the packings that people use most beside gzip; naming the reason helps more than 'no capture'.</summary>
    private static bool IsPackedOtherwise(ReadOnlySpan<byte> start) =>
        start.StartsWith("PK\u0003\u0004"u8) || start.StartsWith("BZh"u8)
        || start.StartsWith<byte>([0xFD, 0x37, 0x7A, 0x58, 0x5A]) || start.StartsWith<byte>([0x28, 0xB5, 0x2F, 0xFD]);

    /// <summary>No control characters but those of text; octets from 0x80 on may be UTF-8.</summary>
    private static bool IsText(ReadOnlySpan<byte> start)
    {
        foreach (byte octet in start)
        {
            if (octet < 0x20 && octet is not (0x09 or 0x0A or 0x0C or 0x0D) || octet == 0x7F)
                return false;
        }

        return true;
    }
}
