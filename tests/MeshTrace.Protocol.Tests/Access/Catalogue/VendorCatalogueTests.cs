using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Tests.Access.Catalogue;

public class VendorCatalogueTests
{
    private const string Table = """
        # Reading room: our own window sensors. Company 0xFFFF is for tests.
        0xC1FFFF  Window Get     -                                                    0xC2FFFF
        0xC2FFFF  Window Status  Open:1,Jammed:1=yes-no,RFU:6,Temperature:16s=0.01 °C!0x8000,Name:text?

        0xC3FFFF	Window Set	Position:8=0.5 %,TID:8,TransitionTime:8?,Delay:8?	0xC2FFFF
        """;

    [Fact]
    public void AVendorMessageIsReadAndWrittenLikeTheStandards()
    {
        VendorCatalogue vendor = VendorCatalogue.Read(Table, "windows.txt");
        Assert.Equal(3, vendor.All.Count);

        byte[] payload = Convert.FromHexString("C2FFFF03660857657374");
        DecodedMessage message = AccessReader.Read(payload, vendor);
        Assert.Equal("Window Status", message.Definition!.Name);
        Assert.Equal("Open=1 Jammed=1 RFU=0 Temperature=2150 Name='West'", FieldText.Of(message.Fields));
        Assert.Equal(("yes", "21.50 °C"), (message["Jammed"]!.Reads, message["Temperature"]!.Reads));
        Assert.Equal(payload, AccessWriter.Write(message));

        MessageDefinition set = vendor.Find(new Opcode(0xC3FFFF))!;
        Assert.Equal((true, true, 0xC2FFFFu), (set.HasTid, set.Acknowledged, set.Response!.Value.Value));
        Assert.Equal("at once", AccessReader.Read(Convert.FromHexString("C3FFFF64010000"), vendor)["TransitionTime"]!.Reads);
    }

    [Fact]
    public void WithoutATableTheOctetsAreShown()
    {
        // §8.3.21: vendor opcode 0x15 of company 0x000A, parameters "Hello".
        DecodedMessage message = AccessReader.Read(Convert.FromHexString("D50A0048656C6C6F"));
        Assert.Null(message.Definition);
        Assert.Equal(((ushort)0x000A, 0xD50A00u), (message.Opcode.Company!.Value, message.Opcode.Value));
        Assert.Equal("Parameters=#48656C6C6F", FieldText.Of(message.Fields));
    }

    [Theory]
    [InlineData("0xC1FFFF Window Get -", 1, "expected opcode, name and layout")]
    [InlineData("# comment\n\n0x8202  Window Get  -", 3, "'0x8202' is no vendor opcode")]
    [InlineData("0x00C1FF  Window Get  -", 1, "'0x00C1FF' is no vendor opcode")]
    [InlineData("0xC1FFFF  Window Get  -\n0xC1FFFF  Window Set  -", 2, "0xC1FFFF is in the table already")]
    [InlineData("0xC1FFFF  Window Get  Open", 1, "character 5: expected ':' and a size, or '{'")]
    [InlineData("0xC1FFFF  Window Get  Open:99", 1, "character 8: expected a size that this kind of field can have")]
    [InlineData("0xC1FFFF  Window Get  Open:wide", 1, "character 6: expected a size such as 8, 16s")]
    [InlineData("0xC1FFFF  Window Get  Open:8=furlongs", 1, "character 8: expected a meaning")]
    [InlineData("0xC1FFFF  Window Get  Open:8~Format", 1, "character 8: expected a condition")]
    [InlineData("0xC1FFFF  Window Get  Open:var[Length +]", 1, "character 10: expected a length")]
    [InlineData("0xC1FFFF  Window Get  Open:@Nothing", 1, "character 7: expected the name of a part")]
    [InlineData("0xC1FFFF  Window Get  {A:8}*", 1, "character 1: expected a name")]
    [InlineData("0xC1FFFF  Window Get  List{A:8", 1, "character 9: expected '}'")]
    [InlineData("0xC1FFFF  Window Get  A:8;B:8", 1, "character 4: expected ',' or the end")]
    public void AMistakeNamesFileLineAndPlace(string text, int line, string says)
    {
        VendorCatalogueException thrown = Assert.Throws<VendorCatalogueException>(() => VendorCatalogue.Read(text, "windows.txt"));
        Assert.Equal(("windows.txt", line), (thrown.File, thrown.Line));
        Assert.Contains(says, thrown.Message, StringComparison.Ordinal);
    }
}
