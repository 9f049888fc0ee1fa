using System.Text.Json;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Records;

public sealed class RecordsWriterTests
{
    private readonly Story _story = new();

    [Fact]
    public void Kinds_ComeInTheirOrder()
    {
        int frame = _story.Frame();
        _story.Flood(0x0003, 0xC001, 100, [0x66], new FloodCopy(frame, 5));
        _story.Message(0x0003, 0xC001, 100, [0x82, 0x02, 0x01, 0x07]);
        _story.History.Nodes = [new NodeRecord { Unicast = new MeshAddress(3) }];
        string[] kinds = [.. Lines.Of(_story.History).Select(line => JsonSerializer.Deserialize<JsonElement>(line).GetProperty("record").GetString()!)];
        Assert.Equal(["contract", "frame", "flood", "message", "node"], kinds);
        Assert.Equal(4, new RecordsWriter(_story.History, new RecordsSettings()).Total);
    }

    [Fact]
    public void Only_LeavesTheOthersOut()
    {
        _story.Frame();
        _story.Flood(0x0003, 0xC001, 100, [0x66]);
        Assert.Equal(2, Lines.Of(_story.History, new RecordsSettings { Only = [RecordKind.Flood] }).Length);
    }

    [Fact]
    public void EveryKind_IsFoundByItsName()
    {
        foreach (RecordKind kind in RecordKinds.All)
        {
            Assert.True(RecordKinds.TryParse(RecordKinds.NameOf(kind), out RecordKind found));
            Assert.Equal(kind, found);
        }
        Assert.False(RecordKinds.TryParse("frames", out _));
        Assert.False(RecordKinds.TryParse("contract", out _));
    }

    [Fact]
    public void APayloadThatDoesNotFit_SaysSo_BesideWhatCouldBeRead()
    {
        _story.Message(0x0003, 0xC001, 100, [0x82, 0x02, 0x01]);    // Generic OnOff Set without TID (Mesh Model 1.1 §3.2.1.2)
        JsonElement message = JsonSerializer.Deserialize<JsonElement>(Assert.Single(Lines.Of(_story.History, RecordKind.Message)));
        Assert.Equal(1, message.GetProperty("fields").GetProperty("OnOff").GetInt32());
        Assert.StartsWith("too short", message.GetProperty("reads").GetProperty("problem").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public void AHeartbeat_SaysAfterHowManyHopsItWasHeard()
    {
        int flood = _story.Flood(0x0003, 0xC001, 100, [0x0A], new FloodCopy(_story.Frame(), 5), new FloodCopy(_story.Frame(), 3));
        int row = _story.Message(0x0003, 0xC001, 100, [0x05, 0x00, 0x01], control: true, flood: flood);     // InitTTL 5, feature relay
        _story.History.Messages[row].Opcode = new Opcode(0x0A);
        JsonElement message = JsonSerializer.Deserialize<JsonElement>(Assert.Single(Lines.Of(_story.History, RecordKind.Message)));
        Assert.Equal("heard after 1 to 3 hops", message.GetProperty("reads").GetProperty("InitTTL").GetString());
    }

    [Fact]
    public void HugeLine_IsWrittenInPieces()
    {
        const int Copies = 50_000;
        var copies = new FloodCopy[Copies];
        for (int i = 0; i < Copies; i++)
            copies[i] = new FloodCopy(_story.Frame(), 5);
        _story.Flood(0x0003, 0xC001, 100, [0x66], copies);
        using var pieces = new LargestWrite();
        new RecordsWriter(_story.History, new RecordsSettings { Only = [RecordKind.Flood] }).Write(pieces);
        Assert.InRange(pieces.Largest, 1, 100_000);
        string line = Assert.Single(Lines.Of(_story.History, RecordKind.Flood));
        Assert.Equal(Copies, JsonSerializer.Deserialize<JsonElement>(line).GetProperty("copies").GetArrayLength());
    }

    [Fact]
    public void Stopped_LeavesWholeLines()
    {
        for (int i = 0; i < 20_000; i++)
            _story.Frame();
        using var stream = new MemoryStream();
        using var stop = new CancellationTokenSource();
        Assert.Throws<OperationCanceledException>(() =>
            new RecordsWriter(_story.History, new RecordsSettings()).Write(stream, written => { if (written >= 8192) stop.Cancel(); }, stop.Token));
        string[] lines = System.Text.Encoding.UTF8.GetString(stream.ToArray()).Split('\n');
        Assert.Empty(lines[^1]);
        Assert.Equal(1 + 8192 + 1, lines.Length);
    }

    [Fact]
    public void ManyFrames_AreWrittenAsEachByItself()
    {
        for (int i = 0; i < 50_000; i++)
            _story.Frame();
        string[] lines = Lines.Of(_story.History, RecordKind.Frame);
        Assert.Equal(50_000, lines.Length);
        for (int row = 0; row < lines.Length; row += 61)
            Assert.Equal(RecordText.Of(_story.History, RecordKind.Frame, row, new RecordsSettings()), lines[row]);
    }

    [Fact]
    public void Names_OfAnyScriptAndHostileOnes_StayOneLineOfJson()
    {
        string[] names = ["閲覧室の照明", "مصباح", "a\"b\\c\u0001\u2028\u2029\n\r\t", "\ud83d\udca1 lamp", "</script>"];
        _story.History.Nodes = [.. names.Select((name, i) => new NodeRecord { Unicast = new MeshAddress((ushort)(i + 1)), Name = name })];
        string[] lines = Lines.Of(_story.History, RecordKind.Node);
        Assert.Equal(names, lines.Select(line => JsonSerializer.Deserialize<JsonElement>(line).GetProperty("name").GetString()));
        Assert.Contains("閲覧室の照明", lines[0], StringComparison.Ordinal);
        Assert.All(lines, line => Assert.DoesNotContain(line, c => c < ' ' || c is '\u2028' or '<'));
    }

    [Fact]
    public void NumbersThatAreNone_AreNull()
    {
        _story.History.Nodes = [new NodeRecord { Unicast = new MeshAddress(3), HeardShare = double.NaN, CopiesPerPdu = double.PositiveInfinity }];
        Assert.Contains("\"heardShare\":null,\"copiesPerPdu\":null", Assert.Single(Lines.Of(_story.History, RecordKind.Node)), StringComparison.Ordinal);
    }

    private sealed class LargestWrite : MemoryStream
    {
        public int Largest { get; private set; }

        public override void Write(ReadOnlySpan<byte> buffer) => Largest = Math.Max(Largest, buffer.Length);
    }
}
