using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.Analysis.Tests.Findings.Friendship;

/// <summary>A phone's log together with what was on the air: filters that keep messages back, proxies that pass nothing on, and their healthy twins.</summary>
public sealed class ProxyFindingTests
{
    private const ushort Wanted = 0xC123, Other = 0x0044;

    /// <summary>Handles of Mesh Proxy Data In and Out in the composed log; Write Command and Handle Value Notification (Core vol 3 part F §3.4).</summary>
    private const byte DataIn = 0x12, DataOut = 0x14, WriteCommand = 0x52, Notification = 0x1B;

    private readonly PhoneSetup _setup = PhoneSetup.Compose();
    private readonly AirBuilder _air = new(PhoneSetup.NetKey.ToArray(), PhoneSetup.IvIndex);

    /// <summary>Adds addresses to the filter at the end of the talk, and what the server tells of its size.</summary>
    private void Filter(ushort[] add, ushort told)
    {
        ConnectionScript script = _setup.Connections[2];
        byte[] message = new byte[40];
        int length = ProxyConfigurationWriter.WriteAddresses(message, add: true, [.. add.Select(address => new MeshAddress(address))]);
        Say(true, PhoneSetup.PhoneUnicast, 5000, message.AsSpan(0, length));
        length = ProxyConfigurationWriter.WriteFilterStatus(message, ProxyFilterType.AcceptList, told);
        Say(false, _setup.Nodes[0].Unicast, 5001, message.AsSpan(0, length));

        void Say(bool fromClient, ushort src, uint seq, ReadOnlySpan<byte> configuration)
        {
            var net = new NetKeyMaterial(PhoneSetup.NetKey.Span);
            byte[] clear = new byte[NetworkSecurity.LongestPdu], pdu = new byte[NetworkSecurity.LongestPdu];
            int clearLength = NetworkSecurity.Write(clear, PhoneSetup.IvIndex, net.Flooding.Nid, ctl: true, 0, seq, new MeshAddress(src), MeshAddress.Unassigned, configuration);
            int pduLength = NetworkSecurity.EncryptProxyConfiguration(clear.AsSpan(0, clearLength), net.Flooding, PhoneSetup.IvIndex, pdu);
            const byte proxyConfiguration = 0x02;       // SAR 0: a complete message
            byte[] att = [fromClient ? WriteCommand : Notification, fromClient ? DataIn : DataOut, 0, proxyConfiguration, .. pdu[..pduLength]];
            script.Pdus.Add(new ScriptedPdu(script.Pdus[^1].TimeUs + 20_000, fromClient, att));
        }
    }

    private CaptureHistory Analyse(params ushort[] phoneSubscribes)
    {
        using var log = new MemoryStream();
        HostLogWriter.Write(log, _setup.Connections, HostLogForm.BtSnoopH4);
        log.Position = 0;
        var frames = new List<(long TimeNs, byte[] Octets, LinkType Type)>();
        using (IFrameSource source = CaptureFile.Open(log, "phone"))
            Take(source);
        _air.Frames.Rewind();
        Take(_air.Frames);
        var merged = new FrameList();
        foreach ((long timeNs, byte[] octets, LinkType type) in frames.OrderBy(frame => frame.TimeNs))
            merged.Add(timeNs, octets, type);
        var description = new NetworkDescription
        {
            NetKeys = [new DescribedNetKey { Index = 0, Key = new KeyOctets(PhoneSetup.NetKey.Span) }],
            AppKeys = [new DescribedAppKey { Index = 0, BoundNetKey = 0, Key = new KeyOctets(PhoneSetup.AppKey.Span) }],
            Nodes = phoneSubscribes.Length == 0 ? [] :
            [
                new DescribedNode
                {
                    Name = "phone", Unicast = new MeshAddress(PhoneSetup.PhoneUnicast), Elements = [],
                    KnownAddresses = [.. phoneSubscribes.Select(group => new DescribedAddress(new MeshAddress(group)))],
                },
            ],
        };
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = description });
        analysis.Read(merged);
        return analysis.Complete();

        void Take(IFrameSource source)
        {
            while (source.TryReadNext(out CapturedFrame frame))
                frames.Add((frame.TimeNs, frame.Octets.ToArray(), frame.LinkType));
        }
    }

    private double ProxyTimeMs(double share)
    {
        var connection = Analyse().Connections[2];
        return (connection.FirstTimeNs + ((connection.LastTimeNs - connection.FirstTimeNs) * share)) / 1e6;
    }

    [Theory]
    [InlineData(4, true)]       // the phone and its group were in the list already: five asked for, four held
    [InlineData(5, false)]
    public void AFilterWithLessRoomThanAskedFor_IsCertain(ushort told, bool raised)
    {
        Filter([0xC101, 0xC102, 0xC103], told);
        IReadOnlyList<Finding> found = Analyse().Of("proxy-filter-blocks");
        Assert.Equal(raised ? [Confidence.Certain] : [], found.Select(finding => finding.Confidence));
        Assert.All(found, finding => Assert.Equal(_setup.Nodes[0].Unicast, finding.Node!.Value.Value));
        Assert.All(found, finding => Assert.Contains("holds 4 addresses", finding.Says));
    }

    [Theory]
    [InlineData(Wanted, true, Confidence.Likely)]
    [InlineData(Wanted, false, Confidence.Possible)]
    [InlineData(PhoneSetup.Group, true, null)]      // it is in the filter
    public void AGroupThatThePhoneWants_AndTheFilterKeepsBack_IsTold(ushort group, bool traffic, Confidence? confidence)
    {
        if (traffic)
        {
            double at = ProxyTimeMs(0.98);
            for (uint i = 0; i < 3; i++)
                _air.Access(at + i, 4, 700 + i, Other, group, "820401");
        }
        Assert.Equal(confidence is { } expected ? [expected] : [], Analyse(group).Of("proxy-filter-blocks").Select(finding => finding.Confidence));
        Assert.Empty(Analyse().Of("proxy-filter-blocks"));      // nobody says what the phone wants
    }

    /// <summary>What the phone writes for others, with the proxy's own PDUs on the air or not, and what the proxy passes on of it.</summary>
    [Theory]
    [InlineData(40, 0, true)]
    [InlineData(40, 1, false)]      // one came through: the others may have been missed
    [InlineData(0, 0, false)]       // the proxy is not heard on the air at all
    [InlineData(4, 0, false)]       // four PDUs, of which first and last are no sample, tell too little
    public void NothingOfThePhoneOnTheAir_IsTold_WhereItWouldHaveBeenHeard(int ownOnAir, int passedOn, bool raised)
    {
        double begin = ProxyTimeMs(0.05), end = ProxyTimeMs(0.98);
        for (uint i = 0; i < ownOnAir; i++)
            _air.Access(begin + ((end - begin) * i / ownOnAir), 5, 9000 + i, _setup.Nodes[0].Unicast, 0xC0F0, "820401");
        CaptureHistory phone = Analyse();
        for (int row = 0; row < phone.Floods.Count && passedOn > 0; row++)
        {
            FloodRow flood = phone.Floods[row];
            if (flood.Src.Value != PhoneSetup.PhoneUnicast || flood.Dst.Value != PhoneSetup.Group)
                continue;
            _air.Network((flood.FirstTimeNs / 1e6) + 15, flood.Ctl, 4, flood.Seq, flood.Src.Value, flood.Dst.Value, flood.TransportPdu, advertiser: _setup.Nodes[0].Address);
            passedOn--;
        }
        IReadOnlyList<Finding> found = Analyse().Of("proxy-not-forwarding");
        Assert.Equal(raised ? [_setup.Nodes[0].Unicast] : [], found.Select(finding => finding.Node!.Value.Value));
    }
}
