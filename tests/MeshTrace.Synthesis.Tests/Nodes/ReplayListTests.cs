using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes;

namespace MeshTrace.Synthesis.Tests.Nodes;

// Mesh Protocol 1.1 §3.8.8: a message is new only if its IV index, or its SEQ at the same IV index, is above the last one accepted.
public class ReplayListTests
{
    private static readonly MeshAddress Src = new(0x0003), Other = new(0x0004);

    [Theory]
    [InlineData(5, 10, "Replay")]
    [InlineData(5, 9, "Replay")]
    [InlineData(5, 11, "Fresh")]
    [InlineData(6, 0, "Fresh")]
    [InlineData(4, 999, "Replay")]
    public void OnlyLaterMessagesAreFresh(uint ivIndex, uint seq, string verdict)
    {
        var list = new ReplayList(1);
        list.Accept(Src, 5, 10);
        Assert.Equal(verdict, list.Check(Src, ivIndex, seq).ToString());
    }

    [Fact]
    public void FullList_TakesNoOtherSource()
    {
        var list = new ReplayList(1);
        list.Accept(Src, 5, 10);
        Assert.Equal(ReplayVerdict.Full, list.Check(Other, 5, 1));
    }
}
