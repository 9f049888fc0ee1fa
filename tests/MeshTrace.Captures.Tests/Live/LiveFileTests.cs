using System.Text;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Tests.Files;

namespace MeshTrace.Captures.Tests.Live;

/// <summary>Files that are followed while they grow, are moved away, begin anew and end.</summary>
public sealed class LiveFileTests : IDisposable
{
    private static readonly byte[] Capture = SampleCaptures.Get("pcapng, little-endian, then big-endian").Octets, Other = SampleCaptures.Get("pcap, little-endian, nanoseconds").Octets;

    private readonly string _directory = Directory.CreateTempSubdirectory("captures").FullName;

    private string Growing => Path.Combine(_directory, "growing");

    public void Dispose() => Directory.Delete(_directory, recursive: true);

    [Fact]
    public void AFileThatGrows_IsFollowed_AndAPartialRecordAtTheStopIsNoDamage()
    {
        Append(Other.AsSpan(0, 30));        // the file header and six octets of a record
        using var live = new Collected(new LiveFile(Growing));
        Append(Other.AsSpan(30, 20));       // the first frame, and five octets of the next record
        live.WaitForFrames(1);
        Append(Other.AsSpan(50, Other.Length - 50 - 1));
        live.WaitForFrames(2);
        live.Stop();
        Assert.Equal(ReadCapture.Of(Other).Frames.Take(2), live.Frames);
        Assert.Null(live.Damage);
        Assert.Empty(live.Notices);
    }

    [Fact]
    public void AnEmptyFile_IsWaitedFor()
    {
        Append([]);
        using var live = new Collected(new LiveFile(Growing));
        Append(Capture);
        live.WaitForFrames(4);
        Assert.Equal(ReadCapture.Of(Capture).Frames, live.Stop().Frames);
        Assert.Equal(ReadCapture.Of(Capture).Receivers.Select(receiver => (receiver.Index, receiver.Interface, receiver.LinkType)), live.Receivers.Select(receiver => (receiver.Index, receiver.Interface, receiver.LinkType)));
    }

    [Fact]
    public void AFileThatIsReplaced_IsSaid_AndGoneOnWithFromItsHeader()
    {
        Append(Capture);
        using var live = new Collected(new LiveFile(Growing));
        live.WaitForFrames(4);
        File.Move(Growing, Growing + ".1");
        live.WaitForNotice("moved away");
        File.AppendAllText(Growing, "");
        Append(Other);
        live.WaitForFrames(7);
        live.Stop();
        Assert.Equal([.. ReadCapture.Of(Capture).Frames.Select(frame => frame.Octets), .. ReadCapture.Of(Other).Frames.Select(frame => frame.Octets)], live.Frames.Select(frame => frame.Octets));
        Assert.Contains(live.Notices, notice => notice.Contains("replaced by another file, or began anew", StringComparison.Ordinal));
        Assert.Null(live.Damage);
    }

    [Fact]
    public void AFileReplacedByALongerOne_IsNotGoneOnWithInItsMiddle()
    {
        Append(Other);
        using var live = new Collected(new LiveFile(Growing));
        live.WaitForFrames(3);
        string next = Growing + ".next";
        File.WriteAllBytes(next, Capture);
        File.Move(next, Growing, overwrite: true);
        live.WaitForFrames(7);
        Assert.Null(live.Stop().Damage);
        Assert.Equal(ReadCapture.Of(Capture).Frames.Select(frame => frame.Octets), live.Frames.Skip(3).Select(frame => frame.Octets));
    }

    [Fact]
    public void AFileThatBeginsAnewInItsPlace_IsGoneOnWith_ItsReceiversAreTheSame()
    {
        Append(Capture);
        using var live = new Collected(new LiveFile(Growing));
        live.WaitForFrames(4);
        using (var file = new FileStream(Growing, FileMode.Open, FileAccess.Write, FileShare.ReadWrite))
            file.SetLength(0);
        live.WaitForNotice("began anew");
        Append(Capture);
        live.WaitForFrames(8);
        live.Stop();
        Assert.Equal(live.Frames.Take(4), live.Frames.Skip(4));
        Assert.Equal(ReadCapture.Of(Capture).Receivers.Count, live.Receivers.Count);
    }

    [Fact]
    public void DamageInTheMiddle_EndsTheInput()
    {
        byte[] damaged = [.. Other];
        damaged[24 + 8] = damaged[24 + 9] = damaged[24 + 10] = damaged[24 + 11] = 0xFF;     // the captured length of the first record
        Append(damaged);
        using var live = new Collected(new LiveFile(Growing));
        live.WaitForEnd();
        Assert.Equal(24, live.Damage!.Offset);
        Assert.Empty(live.Frames);
    }

    [Fact]
    public void WhatIsNoCapture_IsRefused_AndWhatIsMissing()
    {
        Append([1, 2, 3, 4, 5, 6, 7, 8, 9]);
        using var live = new Collected(new LiveFile(Growing));
        live.WaitForEnd();
        Assert.Contains("no capture", live.Refused, StringComparison.Ordinal);
        using var missing = new Collected(new LiveFile(Growing + ".not"));
        missing.WaitForEnd();
        Assert.Contains("there is no file", missing.Refused, StringComparison.Ordinal);
    }

    [Fact]
    public void ATextLog_ComesWithItsLines()
    {
        const string log = "18:00:01 begins\n18:00:02 TX network pdu 68eca487516765b5e5bfdacbaf6cb7fb6bff871f035444ce83a670df\n";
        Append(Encoding.UTF8.GetBytes(log));
        using var live = new Collected(new LiveFile(Growing));
        live.WaitForFrames(2);
        Append("18:00:03 ends\n"u8);
        live.WaitForFrames(3);
        live.Stop();
        Assert.Equal(log + "18:00:03 ends\n", Encoding.UTF8.GetString([.. live.Text]));
    }

    private void Append(ReadOnlySpan<byte> octets)
    {
        using var file = new FileStream(Growing, FileMode.Append, FileAccess.Write, FileShare.ReadWrite | FileShare.Delete);
        file.Write(octets);
    }
}
