using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Redaction;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.Analysis.Tests.Redaction;

/// <summary>Connections of a phone are made again piece by piece: in the logs of its host and from the air they tell the same of another network.</summary>
public sealed class ConnectionRedactionTests
{
    private static readonly PhoneSetup Setup = PhoneSetup.Compose();

    public static TheoryData<HostLogForm> Forms => [.. Enum.GetValues<HostLogForm>()];

    [Theory, MemberData(nameof(Forms))]
    public void HostLog_TellsTheSame(HostLogForm form)
    {
        using var log = new MemoryStream();
        HostLogWriter.Write(log, Setup.Connections, form);
        TellsTheSame(log.ToArray());
    }

    [Theory, InlineData(256, 0, 0, false), InlineData(272, 0, 0, false), InlineData(256, 0.33, 0, false), InlineData(272, 0.33, 0, true), InlineData(256, 0, 0.17, false), InlineData(251, 0, 0, false)]
    public void FromTheAir_TellsTheSame(int linkType, double retransmitted, double badCrc, bool missesBegin)
    {
        using var air = new MemoryStream();
        AirCaptureWriter.Write(air, Setup.Connections, new AirRecording { LinkType = new LinkType(linkType), Retransmitted = retransmitted, BadCrc = badCrc, MissesBegin = missesBegin });
        TellsTheSame(air.ToArray());
    }

    [Fact]
    public void EncryptedConnection_StaysClosed()
    {
        using var air = new MemoryStream();
        AirCaptureWriter.Write(air, Setup.Connections, new AirRecording { Encrypts = true });
        (CaptureHistory real, CaptureHistory other) = TellsTheSame(air.ToArray());
        Assert.Equal(real.Connections.Select(connection => (connection.Encryption, connection.Counts.Encrypted)), other.Connections.Select(connection => (connection.Encryption, connection.Counts.Encrypted)));
    }

    /// <summary>Whatever is changed in the packets: nothing is thrown.</summary>
    [Theory, InlineData(true), InlineData(false)]
    public void ChangedPackets_AreTaken(bool host)
    {
        using var file = new MemoryStream();
        if (host)
            HostLogWriter.Write(file, Setup.Connections, HostLogForm.PcapH4WithDirection);
        else
            AirCaptureWriter.Write(file, Setup.Connections, new AirRecording());
        var frames = new List<byte[]>();
        LinkType type = default;
        using (IFrameSource source = Open(file.ToArray()))
            while (source.TryReadNext(out CapturedFrame frame))
            {
                frames.Add(frame.Octets.ToArray());
                type = frame.LinkType;
            }
        var chance = new Random(7);
        for (int round = 0; round < 20; round++)
        {
            var changed = new FrameList();
            for (int i = 0; i < frames.Count; i++)
            {
                byte[] octets = [.. frames[i]];
                if (chance.Next(3) == 0)
                    octets[chance.Next(octets.Length)] = (byte)chance.Next(256);
                changed.Add((i + 1) * 1_000_000L, chance.Next(20) == 0 ? octets[..chance.Next(octets.Length)] : octets, type);
            }
            var settings = new AnalysisSettings { Keys = new KeyArguments { ProvisioningKeys = [Setup.ProvisionerPrivateKey] } };
            var analysis = new CaptureAnalysis(settings);
            analysis.Read(changed);
            var redaction = new CaptureRedaction(analysis.Complete(), settings);
            redaction.LookAtConnections(() =>
            {
                changed.Rewind();
                return changed;
            });
            changed.Rewind();
            using RedactingSource redacted = redaction.Read(changed);
            int read = 0;
            while (redacted.TryReadNext(out CapturedFrame frame))
                read += frame.Octets.Length > 0 ? 1 : 0;
            Assert.InRange(read, frames.Count / 2, frames.Count);
        }
    }

    private static (CaptureHistory Real, CaptureHistory Other) TellsTheSame(byte[] capture)
    {
        var settings = new AnalysisSettings { Keys = new KeyArguments { ProvisioningKeys = [Setup.ProvisionerPrivateKey] } };
        using IFrameSource first = Open(capture), again = Open(capture);
        var analysis = new CaptureAnalysis(settings);
        analysis.Read(first);
        CaptureHistory real = analysis.Complete();
        var redaction = new CaptureRedaction(real, settings);
        redaction.LookAtConnections(() => Open(capture));
        using RedactingSource source = redaction.Read(again);
        var watched = new Watch(source);
        var second = new CaptureAnalysis(redaction.Settings());
        second.Read(watched);
        CaptureHistory other = second.Complete();

        Assert.Equal(real.Frames.Count, other.Frames.Count);
        Assert.Equal(real.Connections.Select(Told), other.Connections.Select(Told));
        Assert.Equal((real.Floods.Count, real.Messages.Count, real.OpenedNetworkPdus), (other.Floods.Count, other.Messages.Count, other.OpenedNetworkPdus));
        Assert.Equal(real.Provisionings.Select(link => (link.Outcome, link.Pdus.Count, link.Connection)), other.Provisionings.Select(link => (link.Outcome, link.Pdus.Count, link.Connection)));
        Assert.Equal(real.Configuration!.Changes.Count, other.Configuration!.Changes.Count);
        Assert.Equal(real.Presses.Select(press => (press.TimeNs, press.Asks, press.Outcome)), other.Presses.Select(press => (press.TimeNs, press.Asks, press.Outcome)));
        Assert.NotEmpty(real.Connections);
        foreach (SetUpNode node in Setup.Nodes)
        {
            watched.NeverHad(Address(node.Address));
            watched.NeverHad(node.DeviceUuid.ToByteArray(bigEndian: true));
        }
        watched.NeverHad(Address(PhoneSetup.PhoneAddress));
        foreach (RevealedKey key in real.Keys.RevealedKeys())
            Assert.DoesNotContain(other.Keys.RevealedKeys(), own => own.Octets.Span.SequenceEqual(key.Octets.Span));
        return (real, other);
    }

    private static string Told(ConnectionRecord connection)
    {
        ConnectionCounts counts = connection.Counts;
        return string.Join(' ', connection.BeginHeard, connection.EndReason, connection.IntervalMs, connection.Mtu, connection.Proxy, connection.Provisioning, connection.Encryption, connection.Services.Count,
            connection.FilterChanges.Count, connection.ClientAddress is null, connection.ServerAddress is null, connection.Central is null, connection.Peripheral is null,
            counts.Packets, counts.BadCrc, counts.Repeated, counts.Gaps, counts.FramesLost, counts.OtherFrames, counts.AttributePdus, counts.ProxyPdusLost,
            counts.NetworkPdusFromClient, counts.NetworkPdusFromServer, counts.Beacons, counts.ConfigurationMessages, counts.ConfigurationMessagesUnopened, counts.ProvisioningPdus);
    }

    private static byte[] Address(ulong address)
    {
        byte[] octets = new byte[AdvertisingPdu.AddressLength];
        AdvertisingPdu.WriteAddress(octets, address);
        return octets;
    }

    private static IFrameSource Open(byte[] capture) => CaptureFile.Open(new MemoryStream(capture), "capture");

    /// <summary>Keeps the octets of all frames that pass.</summary>
    private sealed class Watch(IFrameSource source) : IFrameSource
    {
        private readonly List<byte[]> _frames = [];

        public IReadOnlyList<ReceiverDescription> Receivers => source.Receivers;
        public CaptureDamage? Damage => source.Damage;
        public long Position => source.Position;
        public long? Length => source.Length;

        public bool TryReadNext(out CapturedFrame frame)
        {
            bool read = source.TryReadNext(out frame);
            if (read)
                _frames.Add(frame.Octets.ToArray());
            return read;
        }

        public void NeverHad(byte[] octets) => Assert.All(_frames, frame => Assert.True(frame.AsSpan().IndexOf(octets) < 0, Convert.ToHexString(octets)));

        public void Dispose()
        {
        }
    }
}
