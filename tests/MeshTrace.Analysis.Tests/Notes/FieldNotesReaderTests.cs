using MeshTrace.Analysis.Notes;

namespace MeshTrace.Analysis.Tests.Notes;

public sealed class FieldNotesReaderTests
{
    [Theory]
    [InlineData("1970-01-02T00:00:01Z", 86_401_000_000_000, false, 1_000_000_000)]
    [InlineData("1970-01-02 00:01", 86_460_000_000_000, false, 60_000_000_000)]
    [InlineData("1970-01-02T01:00:01+01:00", 86_401_000_000_000, false, 1_000_000_000)]
    [InlineData("1970-01-02T01:01+01:00", 86_460_000_000_000, false, 60_000_000_000)]
    [InlineData("1970-01-02T00:00:00.25Z", 86_400_250_000_000, false, 0)]
    [InlineData("9:05", 32_700_000_000_000, true, 60_000_000_000)]
    [InlineData("09:05:02", 32_702_000_000_000, true, 1_000_000_000)]
    [InlineData("09:05:02.5", 32_702_500_000_000, true, 0)]
    public void ATime_IsReadWithWhatItLeavesOpen(string text, long ns, bool ofDay, long precision)
    {
        FieldNote note = Assert.Single(FieldNotesReader.Read($"time,node,words\n{text},x,y", "notes.csv"));
        Assert.Equal(new NoteTime(ns, ofDay, precision), note.Time);
    }

    [Fact]
    public void QuotedFields_ColumnsInAnotherOrder_AndOtherColumns_AreRead()
    {
        string text = "\uFEFFwords, Node ,weather,TIME\r\n\"pressed, \"\"stairs\"\"\r\ntwice\",0x0004,rain,18:00\r\n\r\nwindow opened,reading room,,18:10\r\n";
        IReadOnlyList<FieldNote> notes = FieldNotesReader.Read(text, "notes.csv");
        Assert.Equal(2, notes.Count);
        Assert.Equal(("pressed, \"stairs\" twice", "0x0004", 2, true), (notes[0].Words, notes[0].Where, notes[0].Line, notes[0].IsPress));
        Assert.Equal(("window opened", 5, false), (notes[1].Words, notes[1].Line, notes[1].IsPress));
    }

    [Theory]
    [InlineData("", 1, "empty")]
    [InlineData("time;node;words\n18:00;a;b", 1, "commas")]
    [InlineData("time,node,words\n\n25:00,a,b", 3, "no time")]
    [InlineData("time,node,words\n18:00,a", 2, "columns")]
    [InlineData("time,node,words\n18:00,a,\"b\nc", 2, "not closed")]
    [InlineData("time,node,words\n18:00,a,\"b\" c", 2, "closing quote")]
    [InlineData("time,node,words\n2026-02-30T00:00:00Z,a,b", 2, "no time")]
    [InlineData("time,node,words\n9999-01-01T00:00:00Z,a,b", 2, "no time")]
    public void AnError_NamesFileAndLine(string text, int line, string says)
    {
        var problem = Assert.Throws<FieldNotesException>(() => FieldNotesReader.Read(text, "notes.csv"));
        Assert.Equal(("notes.csv", line), (problem.File, problem.Line));
        Assert.Contains(says, problem.Says, StringComparison.Ordinal);
        Assert.StartsWith($"notes.csv, line {line}: ", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void ControlCharacters_AreTakenOut()
    {
        FieldNote note = Assert.Single(FieldNotesReader.Read("time,node,words\n18:00,a\u001b[31m,press\u0007ed", "notes.csv"));
        Assert.Equal(("a[31m", "pressed"), (note.Where, note.Words));
    }
}
