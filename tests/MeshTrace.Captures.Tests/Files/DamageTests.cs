using CsCheck;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>Damaged files: what stands before the damage is given, the damage is located, and nothing throws once the file is
/// open.</summary>
public sealed class DamageTests
{
    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void CutAtEveryOctet_GivesEverythingBeforeTheCut(string name)
    {
        Sample sample = SampleCaptures.Get(name);
        ReadCapture whole = ReadCapture.Of(sample.Octets);
        long[] ends = RecordEnds(sample);

        for (int cut = 0; cut < sample.Octets.Length; cut++)
        {
            byte[] octets = sample.Octets[..cut];
            if (cut < sample.HeaderLength)
            {
                CaptureFault fault = Assert.Throws<CaptureFormatException>(() => ReadCapture.Of(octets)).Fault;
                Assert.True(fault is CaptureFault.Empty or CaptureFault.NotACapture or CaptureFault.BadHeader or CaptureFault.Text, $"{cut}: {fault}");
                continue;
            }

            ReadCapture read = ReadCapture.Of(octets);
            ReadFrame[] complete = [.. whole.Frames.Where((frame, i) => ends[i] <= cut)];
            Assert.Equal(complete, read.Frames.Take(complete.Length));

            bool atBoundary = Boundaries(sample).Contains(cut);
            Assert.Equal(atBoundary, read.Damage == null);
            if (read.Damage is { } damage)
            {
                Assert.Equal("test", damage.File);
                Assert.Equal(Boundaries(sample).Where(b => b < cut).Max(), damage.Offset);
                Assert.NotEqual('.', damage.Says[^1]);
            }

            // The cut record is given as far as it goes, once its header is there.
            Assert.InRange(read.Frames.Count, complete.Length, complete.Length + 1);
            if (read.Frames.Count > complete.Length)
            {
                ReadFrame last = read.Frames[^1], original = whole.Frames[complete.Length];
                Assert.StartsWith(last.Octets, original.Octets, StringComparison.Ordinal);
                Assert.Equal(last.Octets.Length < 2 * original.OriginalLength, last.IsCut);
                Assert.Equal(original with { Octets = last.Octets, IsCut = last.IsCut, CrcBad = last.CrcBad }, last);
                Assert.Equal(read.Damage!.Offset, last.FileOffset);
            }
        }
    }

    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void CutRecordWithWholeHeader_IsGiven(string name)
    {
        Sample sample = SampleCaptures.Get(name);
        ReadCapture whole = ReadCapture.Of(sample.Octets);
        int headerLength = name.StartsWith("pcap,", StringComparison.Ordinal) ? 16 : name.StartsWith("BTSnoop", StringComparison.Ordinal) ? 24 : 28;
        for (int i = 0; i < whole.Frames.Count; i++)
        {
            ReadFrame frame = whole.Frames[i];
            int header = frame.TimeNs == CapturedFrame.NoTime ? 12 : headerLength;
            ReadCapture none = ReadCapture.Of(sample.Octets[..(int)(frame.FileOffset + header)]);
            Assert.Equal(("", true), (none.Frames[i].Octets, none.Frames[i].IsCut));
            Assert.Equal(i, ReadCapture.Of(sample.Octets[..(int)(frame.FileOffset + header - 1)]).Frames.Count);
        }
    }

    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void CutInsideGzip_IsDamageToo(string name)
    {
        Sample sample = SampleCaptures.Get(name);
        byte[] packed = SampleCaptures.Gzip(sample.Octets);
        ReadCapture whole = ReadCapture.Of(sample.Octets);
        Assert.Equivalent(whole, ReadCapture.Of(packed), strict: true);
        for (int cut = 0; cut < packed.Length; cut++)
        {
            try
            {
                ReadCapture read = ReadCapture.Of(packed[..cut]);
                Assert.True(read.Damage != null, $"cut at {cut} of {packed.Length} passed unnoticed");
                Assert.Equal(whole.Frames.Take(read.Frames.Count - 1), read.Frames.Take(read.Frames.Count - 1));
                if (cut >= packed.Length - 8)       // only the check value and the length are missing (RFC 1952): all data is there
                    Assert.Equal(whole.Frames, read.Frames);
            }
            catch (CaptureFormatException e)
            {
                Assert.True(e.Fault is CaptureFault.Empty or CaptureFault.NotACapture or CaptureFault.BadHeader or CaptureFault.PackingDamaged, $"{cut}: {e}");
            }
        }
    }

    [Theory, MemberData(nameof(SampleCaptures.Names), MemberType = typeof(SampleCaptures))]
    public void EveryFieldOfAllOnes_NeitherAllocatesNorLoops(string name)
    {
        Sample sample = SampleCaptures.Get(name);
        for (int at = 0; at + 4 <= sample.Octets.Length; at++)
        {
            byte[] octets = [.. sample.Octets];
            octets.AsSpan(at, 4).Fill(0xFF);
            long before = GC.GetAllocatedBytesForCurrentThread();
            ReadOrRefuse(octets);
            Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 1_000_000);
        }
    }

    [Fact]
    public void RandomOctets_AreRefusedOrRead() => Gen.Select(Gen.Int[0, 9], Gen.Byte.Array[0, 300]).Sample((kind, octets) =>
    {
        // Behind the true file header of a format, so that the records are random and not only the magic.
        ReadOrRefuse(kind == 9 ? octets : [.. SampleCaptures.All[kind].Octets[..SampleCaptures.All[kind].HeaderLength], .. octets]);
    }, iter: 20_000);

    [Fact]
    public void RandomChanges_AreReadToSomeEnd() =>
        Gen.Select(Gen.Int[0, 8], Gen.Select(Gen.Int[0, 10_000], Gen.Byte).Array[1, 4], Gen.Bool).Sample((kind, changes, packed) =>
        {
            byte[] octets = [.. SampleCaptures.All[kind].Octets];
            if (packed)
                octets = SampleCaptures.Gzip(octets);
            foreach ((int at, byte value) in changes)
                octets[at % octets.Length] = value;
            ReadOrRefuse(octets);
        }, iter: 20_000);

    [Theory]
    [InlineData("06000000 FCFFFFFF 00000000", "a packet block of 4 GiB")]
    [InlineData("06000000 FFFFFFFF 00000000", "a length that is no multiple of 4")]
    [InlineData("06000000 1C000000 00000000", "a packet block shorter than its header")]
    [InlineData("99000000 08000000 08000000", "an unknown block shorter than two lengths")]
    [InlineData("99000000 FCFFFFFF 00000000", "an unknown block of 4 GiB")]
    [InlineData("99000000 10000000 00000000 14000000", "the two lengths differ")]
    [InlineData("00000000 00000000 00000000 00000000", "zeros")]
    [InlineData("06000000 20000000 01000000 00000000 00000000 00000000 00000000 20000000", "an interface that was not described")]
    [InlineData("06000000 20000000 FFFFFFFF 00000000 00000000 00000000 00000000 20000000", "interface 0xFFFFFFFF")]
    [InlineData("06000000 20000000 00000000 00000000 00000000 01000000 01000000 20000000", "captured length beyond the block")]
    [InlineData("06000000 20000000 00000000 00000000 00000000 FFFFFFFF 01000000 20000000", "captured length 0xFFFFFFFF")]
    [InlineData("06000000 20000000 00000000 00000000 00000000 00000000 00000000 24000000", "the two lengths of a packet differ")]
    [InlineData("03000000 10000000 05000000 10000000", "a simple packet longer than its block")]
    [InlineData("03000000 10000000 00000000 14000000", "the two lengths of a simple packet differ")]
    [InlineData("05000000 18000000 07000000 00000000 00000000 18000000", "statistics of an interface that was not described")]
    [InlineData("01000000 10000000 FB000000 10000000", "an interface description shorter than its header")]
    [InlineData("01000000 FCFFFFFF FB000000 00000000", "an interface description of 4 GiB")]
    [InlineData("0A0D0D0A 1C000000 00000000 01000000 FFFFFFFFFFFFFFFF 1C000000", "a section without magic")]
    [InlineData("0A0D0D0A 1C000000 4D3C2B1A 02000000 FFFFFFFFFFFFFFFF 1C000000", "a section of version 2.0")]
    [InlineData("0A0D0D0A 18000000 4D3C2B1A 01000000 FFFFFFFFFFFFFFFF 18000000", "a section shorter than its header")]
    public void PcapNgBlockThatContradictsItself_IsDamageAtItsOffset(string block, string why)
    {
        var b = new PcapNgBytes(false).Section(false).Interface(251, 0).Enhanced(0, 1, "AA");
        long offset = b.Length;
        b.Raw(Hex.Octets(block)).Enhanced(0, 2, "BB");

        ReadCapture capture = ReadCapture.Of(b.ToArray());
        Assert.True(capture.Frames.Count == 1, why);
        Assert.True(capture.Damage?.Offset == offset, why + ": " + capture.Damage);
    }

    [Fact]
    public void SimplePacketBeforeAnyInterface_IsDamage()
    {
        ReadCapture capture = ReadCapture.Of(new PcapNgBytes(false).Section(false).Simple(1, "AA").ToArray());
        Assert.Equal(28, capture.Damage?.Offset);
    }

    [Fact]
    public void MoreInterfacesThanAnyFileHas_AreDamage()
    {
        var b = new PcapNgBytes(false).Section(false);
        for (int i = 0; i <= 65_536; i++)
            b.Interface(251, 0);
        ReadCapture capture = ReadCapture.Of(b.ToArray());
        Assert.Equal(65_536, capture.Receivers.Count);
        Assert.Equal(28 + (65_536 * 20), capture.Damage?.Offset);
    }

    [Fact]
    public void DeviceErrorWhileReading_IsDamage()
    {
        byte[] octets = SampleCaptures.All[0].Octets;
        using IFrameSource source = CaptureFile.Open(new TestStream(octets, failAt: octets.Length - 2), "test");
        ReadCapture capture = ReadCapture.Of(source);
        Assert.Equal(3, capture.Frames.Count);
        Assert.Contains("cannot be read on", capture.Damage?.Says, StringComparison.Ordinal);
    }

    private static void ReadOrRefuse(byte[] octets)
    {
        try
        {
            using IFrameSource source = CaptureFile.Open(new MemoryStream(octets), "test");
            int frames = 0;
            while (source.TryReadNext(out CapturedFrame frame))
            {
                frames++;
                Assert.True(frame.Octets.Length <= frame.OriginalLength);
                Assert.InRange(frame.Receiver, 0, source.Receivers.Count - 1);
            }

            Assert.True(frames <= octets.Length * 200, "more frames than even packed octets can hold");
        }
        catch (CaptureFormatException e)
        {
            Assert.Equal("test", e.File);
            Assert.NotEmpty(e.Expected);
        }
    }

    /// <summary>Offsets at which records or blocks begin, and the end.</summary>
    private static HashSet<long> Boundaries(Sample sample)
    {
        var boundaries = new HashSet<long> { sample.Octets.Length };
        long at = sample.Name.StartsWith("pcapng", StringComparison.Ordinal) ? 0 : sample.HeaderLength;
        while (at < sample.Octets.Length)
        {
            boundaries.Add(at);
            at += RecordLength(sample, (int)at);
        }

        return boundaries;
    }

    private static long[] RecordEnds(Sample sample) =>
        [.. ReadCapture.Of(sample.Octets).Frames.Select(frame => frame.FileOffset + RecordLength(sample, (int)frame.FileOffset))];

    /// <summary>The lengths of these small samples fit into one octet, whichever end it stands at.</summary>
    private static int RecordLength(Sample sample, int at)
    {
        byte[] o = sample.Octets;
        if (sample.Name.StartsWith("pcapng", StringComparison.Ordinal))
            return o[at + 4] | o[at + 7];
        return sample.Name.StartsWith("pcap,", StringComparison.Ordinal) ? 16 + (o[at + 8] | o[at + 11]) : 24 + o[at + 7];
    }
}
