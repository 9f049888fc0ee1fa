using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Records;

/// <summary>Each kind of record, octet for octet as docs/records.md says: the expected lines are written by hand from the contract.</summary>
public sealed class RecordsContractTests
{
    private readonly Story _story = new();

    [Fact]
    public void Contract_IsTheFirstLine()
    {
        _story.History.Damages = [new CaptureDamage("evening.pcapng", 4711, "a block of 12 octets or more was expected")];
        Assert.Equal("""
            {"record":"contract","name":"meshtrace-records","version":1,"program":"1.2.3","records":["press"],"keysRevealed":false,"receivers":[{"receiver":1,"file":"evening.pcapng","interface":"desk","linkType":256,"reportedDropped":null}],"damages":[{"file":"evening.pcapng","offset":4711,"says":"a block of 12 octets or more was expected"}]}
            """, Lines.Of(_story.History, new RecordsSettings { Only = [RecordKind.Press], ProgramVersion = "1.2.3" })[0]);
    }

    [Fact]
    public void Frame_Whole()
    {
        _story.Frame(Story.Begin + 123_456_000, Carries.MeshMessage | Carries.SecureNetworkBeacon);
        Assert.Equal("""
            {"record":"frame","frame":1,"file":"evening.pcapng","receiver":1,"time":"2026-03-02T18:00:00.123456000Z","linkType":256,"channel":37,"rssi":-60,"crc":"ok","advertiser":"C0:FF:EE:00:12:34","advertiserKind":"random","pduType":"ADV_NONCONN_IND","carries":["meshMessage","secureNetworkBeacon"],"flood":null,"connection":null,"problem":null,"line":null,"takenFor":null,"because":null,"accessMessage":null}
            """, Assert.Single(Lines.Of(_story.History, RecordKind.Frame)));
    }

    [Fact]
    public void Frame_OfWhichLittleIsKnown()
    {
        _story.Frame(CapturedFrame.NoTime, Carries.None, channel: null, rssi: null, CrcState.Unknown, FrameProblem.Malformed, advertiser: null, pduType: null);
        Assert.Equal("""
            {"record":"frame","frame":1,"file":"evening.pcapng","receiver":1,"time":null,"linkType":256,"channel":null,"rssi":null,"crc":"unknown","advertiser":null,"advertiserKind":null,"pduType":null,"carries":[],"flood":null,"connection":null,"problem":"malformed","line":null,"takenFor":null,"because":null,"accessMessage":null}
            """, Assert.Single(Lines.Of(_story.History, RecordKind.Frame)));
    }

    [Fact]
    public void Flood_WithItsCopiesAndHops()
    {
        int near = _story.Frame(), far = _story.Frame(Story.Begin + (20 * 1_000_000), channel: 39, rssi: -88);
        _story.Flood(0x0003, 0xC001, 100, [0x66, 0x01, 0xFF], new FloodCopy(near, 5), new FloodCopy(far, 4));
        Assert.Equal(
            """{"record":"flood","flood":1,"networkId":"NETWORKID","netKeyIndex":0,"ivIndex":4,"credentials":"flooding","ctl":false,"src":"0x0003","dst":"0xC001","seq":100,"firstTime":"2026-03-02T18:00:00.000000000Z","lastTime":"2026-03-02T18:00:01.000000000Z","ttls":[{"ttl":5,"copies":1},{"ttl":4,"copies":1}],"transportPdu":"6601ff","copies":["""
                .Replace("NETWORKID", _story.Keys.Subnets[0].NetworkId.ToString("x16"), StringComparison.Ordinal)
            + """{"frame":1,"time":"2026-03-02T18:00:00.000000000Z","ttl":5,"channel":37,"rssi":-60,"receiver":1,"advertiser":"C0:FF:EE:00:12:34","sentBy":null,"hop":0,"bearer":"advertising"},"""
            + """{"frame":2,"time":"2026-03-02T18:00:00.020000000Z","ttl":4,"channel":39,"rssi":-88,"receiver":1,"advertiser":"C0:FF:EE:00:12:34","sentBy":null,"hop":1,"bearer":"advertising"}]}""",
            Assert.Single(Lines.Of(_story.History, RecordKind.Flood)));
    }

    [Fact]
    public void Message_WithItsFieldsRawAndInWords()
    {
        _story.Flood(0x0003, 0xC001, 100, [0x66]);
        // Generic OnOff Set (Mesh Model 1.1 §3.2.1.2): OnOff 1, TID 7, Transition Time 0x14 = 20 steps of 100 ms, Delay 2 = 10 ms.
        _story.Message(0x0003, 0xC001, 100, [0x82, 0x02, 0x01, 0x07, 0x14, 0x02]);
        string line = Assert.Single(Lines.Of(_story.History, RecordKind.Message));
        Assert.StartsWith("""{"record":"message","message":1,"kind":"access","time":"2026-03-02T18:00:00.000000000Z","src":"0x0003","dst":"0xC001","label":null,"ivIndex":4,"seq":100,"ttl":5,"netKeyIndex":0,"key":"app","appKeyIndex":null,"deviceKeyOf":null,"transMicBits":32,"segments":0,"payload":"820201071402","opcode":"0x8202","company":null,"name":"Generic OnOff Set","fields":{"OnOff":1,"TID":7,""", line, StringComparison.Ordinal);
        Assert.Contains("\"reads\":{\"OnOff\":\"on\",", line, StringComparison.Ordinal);
        Assert.EndsWith("\"floods\":[1],\"decrypted\":true}", line, StringComparison.Ordinal);
    }

    [Fact]
    public void Message_NotDecrypted()
    {
        _story.Flood(0x0003, 0xC001, 100, [0x66]);
        _story.Message(0x0003, 0xC001, 100, [], decrypted: false);
        Assert.Contains("""
            "key":"app","appKeyIndex":null,"deviceKeyOf":null,"transMicBits":32,"segments":0,"payload":null,"opcode":null,"company":null,"name":null,"fields":null,"reads":null,"floods":[1],"decrypted":false}
            """, Assert.Single(Lines.Of(_story.History, RecordKind.Message)), StringComparison.Ordinal);
    }

    [Fact]
    public void Message_OfAVendor_ShowsOpcodeAsSentAndCompany()
    {
        _story.Flood(0x0003, 0xC001, 100, [0x66]);
        _story.Message(0x0003, 0xC001, 100, [0xC1, 0x5D, 0x00, 0xAA]);
        Assert.Contains("""
            "payload":"c15d00aa","opcode":"0xC15D00","company":93,"name":null,"fields":{"Parameters":"aa"},"reads":{},
            """, Assert.Single(Lines.Of(_story.History, RecordKind.Message)), StringComparison.Ordinal);
    }

    [Fact]
    public void Message_OfControl_HasItsOwnOpcodeForm()
    {
        _story.Flood(0x0003, 0x0004, 100, [0x0A]);
        int row = _story.Message(0x0003, 0x0004, 100, [0x05, 0x00, 0x01], control: true);
        _story.History.Messages[row].Opcode = new Protocol.Access.Opcode(0x0A);
        string line = Assert.Single(Lines.Of(_story.History, RecordKind.Message));
        Assert.Contains("\"kind\":\"control\"", line, StringComparison.Ordinal);
        Assert.Contains("\"key\":null,\"appKeyIndex\":null,\"deviceKeyOf\":null,\"transMicBits\":null,\"segments\":0,\"payload\":\"050001\",\"opcode\":\"0x0A\",\"company\":null,\"name\":\"Heartbeat\"", line, StringComparison.Ordinal);
    }

    [Fact]
    public void Message_WithPayloadThatIsNoMessage_IsStillARecord()
    {
        _story.Flood(0x0003, 0x0004, 100, [0x66]);
        foreach (byte[] payload in (byte[][])[[0x7F], [0xC1], [0x82], [0xC1, 0x5D, 0x00], []])
            _story.Message(0x0003, 0x0004, 100, payload);
        Assert.Equal(5, Lines.Of(_story.History, RecordKind.Message).Length);
    }

    [Fact]
    public void Transfer_WithSegmentsAndAcknowledgments()
    {
        var transfer = new Transfer
        {
            IsControl = false, Src = new MeshAddress(0x0001), Dst = new MeshAddress(0x0005), Seq = 0x3129AB, IvIndex = 4, SeqZero = 0x09AB, Segments = 3, Subnet = 0,
            FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin + 41_250_000, Heard = 0b101, Outcome = TransferOutcome.Incomplete,
        };
        transfer.Sent.Add(new SegmentSent(0, 0, Story.Begin));
        transfer.Sent.Add(new SegmentSent(2, 1, Story.Begin + 41_250_000));
        transfer.Acks.Add(new BlockAcknowledgment(2, Story.Begin + 30_000_000, new MeshAddress(0x0009), true, 0x80000005));
        _story.History.Transfers = [transfer];
        Assert.Equal("""
            {"record":"transfer","transfer":1,"kind":"access","src":"0x0001","dst":"0x0005","seq":3221931,"seqZero":2475,"segments":3,"firstTime":"2026-03-02T18:00:00.000000000Z","lastTime":"2026-03-02T18:00:00.041250000Z","sent":[{"segO":0,"flood":1,"time":"2026-03-02T18:00:00.000000000Z"},{"segO":2,"flood":2,"time":"2026-03-02T18:00:00.041250000Z"}],"acks":[{"flood":3,"time":"2026-03-02T18:00:00.030000000Z","from":"0x0009","onBehalf":true,"block":"0x80000005"}],"heard":[0,2],"missing":[1],"outcome":"incomplete","durationMs":41.25,"message":null}
            """, Assert.Single(Lines.Of(_story.History, RecordKind.Transfer)));
    }

    [Theory]
    [InlineData(TransferOutcome.Acknowledged, "acknowledged"), InlineData(TransferOutcome.AllHeard, "all-heard")]
    [InlineData(TransferOutcome.Cancelled, "cancelled"), InlineData(TransferOutcome.Incomplete, "incomplete")]
    public void Transfer_OutcomeWords(TransferOutcome outcome, string word) => Assert.Equal(word, TransferRecords.OutcomeWord(outcome));

    [Fact]
    public void Press_WithEachAnswererOnce()
    {
        _story.History.Presses = [Story.Press(PressOutcome.Some, [0x0009, 0x000A], [0x0009, 0x0009])];
        Assert.Equal("""
            {"record":"press","press":1,"time":"2026-03-02T18:00:00.000000000Z","src":"0x0003","dst":"0xC001","tid":7,"opcode":"0x8202","name":"Generic OnOff Set","asks":"on","acknowledged":true,"messages":[1],"lastTtl":3,"hopsSeen":2,"expected":["0x0009","0x000A"],"answered":["0x0009"],"outcome":"some","latencyMs":140.5,"findings":[]}
            """, Assert.Single(Lines.Of(_story.History, RecordKind.Press)));
    }

    [Fact]
    public void Press_UnknownExpectedIsNull_NobodyIsEmpty()
    {
        _story.History.Presses = [Story.Press(PressOutcome.Unknown, null, []), Story.Press(PressOutcome.None, [], [])];
        string[] lines = Lines.Of(_story.History, RecordKind.Press);
        Assert.Contains("\"expected\":null,\"answered\":[],\"outcome\":\"unknown\",\"latencyMs\":null", lines[0], StringComparison.Ordinal);
        Assert.Contains("\"expected\":[],\"answered\":[],\"outcome\":\"none\"", lines[1], StringComparison.Ordinal);
    }

    [Fact]
    public void Beacons_OfEachKind()
    {
        var secure = new BeaconRecord { Kind = BeaconKind.Secure, NetworkId = "3ecaff672f673370", Subnet = 0, IvIndex = 4, KeyRefresh = false, IvUpdate = true, Authenticated = true, Count = 2, FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin };
        secure.Frames.AddRange([0, 4]);
        var device = new BeaconRecord { Kind = BeaconKind.Unprovisioned, DeviceUuid = Guid.Parse("70cf7c97-32a3-45b6-9149-4810d2e9cbf4"), OobInformation = 0x0040, UriHash = 0xD9FEEEEF, Count = 1, FirstTimeNs = CapturedFrame.NoTime, LastTimeNs = CapturedFrame.NoTime };
        var closed = new BeaconRecord { Kind = BeaconKind.Private, Count = 1, FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin };
        _story.History.Beacons = [secure, device, closed];
        string[] lines = Lines.Of(_story.History, RecordKind.Beacon);
        Assert.Equal("""
            {"record":"beacon","beacon":1,"kind":"secure","networkId":"3ecaff672f673370","netKeyIndex":0,"ivIndex":4,"keyRefresh":false,"ivUpdate":true,"deviceUuid":null,"oobInformation":null,"uriHash":null,"authenticated":true,"count":2,"firstTime":"2026-03-02T18:00:00.000000000Z","lastTime":"2026-03-02T18:00:00.000000000Z","frames":[1,5]}
            """, lines[0]);
        Assert.Equal("""
            {"record":"beacon","beacon":2,"kind":"unprovisioned","networkId":null,"netKeyIndex":null,"ivIndex":null,"keyRefresh":null,"ivUpdate":null,"deviceUuid":"70cf7c97-32a3-45b6-9149-4810d2e9cbf4","oobInformation":64,"uriHash":3657363183,"authenticated":null,"count":1,"firstTime":null,"lastTime":null,"frames":[]}
            """, lines[1]);
        Assert.Contains("\"kind\":\"private\",\"networkId\":null", lines[2], StringComparison.Ordinal);
    }

    [Fact]
    public void Provisioning_WithItsPdus()
    {
        var link = new ProvisioningLink { LinkId = 0x23AF5850, DeviceUuid = Guid.Parse("70cf7c97-32a3-45b6-9149-4810d2e9cbf4"), FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin, Outcome = ProvisioningOutcome.Failed, Reason = "confirmation failed" };
        link.Pdus.Add(new ProvisioningPduRecord(Story.Begin, 0x00, "Provisioning Invite", false, 0, [0x00, 0x05]));
        link.Pdus.Add(new ProvisioningPduRecord(Story.Begin, 0x09, "Provisioning Failed", true, 0x80, [0x09, 0x04]));
        link.Pdus.Add(new ProvisioningPduRecord(Story.Begin, 0x42, "0x42", true, 0x81, [0x42, 0xAB]));
        _story.History.Provisionings = [link];
        string line = Assert.Single(Lines.Of(_story.History, RecordKind.Provisioning));
        Assert.StartsWith("""{"record":"provisioning","provisioning":1,"linkId":"0x23AF5850","deviceUuid":"70cf7c97-32a3-45b6-9149-4810d2e9cbf4",""", line, StringComparison.Ordinal);
        Assert.Contains("\"type\":0,\"name\":\"Provisioning Invite\",\"from\":\"provisioner\",\"transaction\":0,\"fields\":{\"AttentionDuration\":5}", line.Replace("Attention Duration", "AttentionDuration", StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Contains("\"type\":66,\"name\":\"0x42\",\"from\":\"device\",\"transaction\":129,\"fields\":{\"Parameters\":\"ab\"},\"reads\":{}", line, StringComparison.Ordinal);
        Assert.EndsWith("\"retransmissions\":0,\"outcome\":\"failed\",\"reason\":\"confirmation failed\",\"unicast\":null,\"netKeyIndex\":null,\"keysLearnt\":false,\"bearer\":\"pb-adv\",\"connection\":null}", line, StringComparison.Ordinal);
    }

    [Fact]
    public void Node_HeardAndUnheard()
    {
        var heard = new NodeRecord
        {
            Unicast = new MeshAddress(0x0003), Elements = 2, Name = "entrance panel", FloodsSent = 3, FloodsRelayed = 1, FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin,
            SeqFirst = 100, SeqLast = 104, SeqGaps = 2, HeardShare = 0.6, CopiesPerPdu = 2.5, RssiMedian = -71,
        };
        heard.Advertisers.Add(0xC0FFEE001234);
        _story.History.Nodes = [heard, new NodeRecord { Unicast = new MeshAddress(0x0009) }];
        string[] lines = Lines.Of(_story.History, RecordKind.Node);
        Assert.Equal("""
            {"record":"node","node":1,"unicast":"0x0003","elements":2,"name":"entrance panel","advertisers":["C0:FF:EE:00:12:34"],"floodsSent":3,"floodsRelayed":1,"firstTime":"2026-03-02T18:00:00.000000000Z","lastTime":"2026-03-02T18:00:00.000000000Z","seqFirst":100,"seqLast":104,"seqGaps":2,"heardShare":0.6,"copiesPerPdu":2.5,"rssiMedian":-71}
            """, lines[0]);
        Assert.Equal("""
            {"record":"node","node":2,"unicast":"0x0009","elements":null,"name":null,"advertisers":[],"floodsSent":0,"floodsRelayed":0,"firstTime":null,"lastTime":null,"seqFirst":null,"seqLast":null,"seqGaps":null,"heardShare":null,"copiesPerPdu":null,"rssiMedian":null}
            """, lines[1]);
    }

    [Fact]
    public void Finding_WithEvidence()
    {
        _story.History.Findings = [new Finding
        {
            Id = "nobody-subscribed", Severity = Severity.Fault, Confidence = Confidence.Likely, TimeNs = Story.Begin, Node = new MeshAddress(0x0005), Press = 12, Presses = [12],
            Says = "Nobody subscribes.", Evidence = [new Evidence("press", 12), new Evidence("flood", 0)], Remedy = "Add the subscription.",
        }];
        Assert.Equal("""
            {"record":"finding","finding":1,"id":"nobody-subscribed","severity":"fault","confidence":"likely","time":"2026-03-02T18:00:00.000000000Z","node":"0x0005","press":13,"presses":[13],"says":"Nobody subscribes.","evidence":[{"record":"press","index":13},{"record":"flood","index":1}],"remedy":"Add the subscription."}
            """, Assert.Single(Lines.Of(_story.History, RecordKind.Finding)));
    }

    [Fact]
    public void Keys_OnlyWhenRevealed()
    {
        _story.Keys.AddDeviceKey(new MeshAddress(0x0003), Convert.FromHexString("000102030405060708090a0b0c0d0e0f"), KeyOrigin.Provisioning);
        Assert.Empty(Lines.Of(_story.History, RecordKind.Key));
        Assert.DoesNotContain(Lines.Of(_story.History), line => line.Contains("0123456789abcdef", StringComparison.OrdinalIgnoreCase));
        Assert.Equal([
            """{"record":"key","key":1,"kind":"netKey","index":0,"of":null,"octets":"0123456789abcdef0123456789abcdef","from":"given"}""",
            """{"record":"key","key":2,"kind":"deviceKey","index":null,"of":"0x0003","octets":"000102030405060708090a0b0c0d0e0f","from":"provisioning"}""",
        ], Lines.Of(_story.History, RecordKind.Key, reveal: true));
    }
}
