using System.Globalization;
using MeshTrace.Protocol.Access;

namespace MeshTrace.Protocol.Tests.Access;

public class AccessWriterTests
{
    [Fact]
    public void NamesAndNumbers()
    {
        Assert.Equal("8201", Hex(AccessWriter.Write("Generic OnOff Get")));
        Assert.Equal("82020105", Hex(AccessWriter.Write("Generic OnOff Set", ("TID", 5), ("OnOff", 1))));
        Assert.Equal("82020105540A", Hex(AccessWriter.Write("Generic OnOff Set", ("Delay", 10), ("OnOff", 1), ("TransitionTime", 0x54), ("TID", 5))));
        Assert.Equal("820680FF07", Hex(AccessWriter.Write("Generic Level Set", ("Level", -128), ("TID", 7))));
        Assert.Equal("803D010003000010", Hex(AccessWriter.Write("Config Model App Bind", ("ElementAddress", 1), ("AppKeyIndex", 3), ("ModelIdentifier", 0x1000))));
        Assert.Equal("803D010003003F002A00", Hex(AccessWriter.Write("Config Model App Bind", ("ElementAddress", 1), ("AppKeyIndex", 3), ("ModelIdentifier", 0x003F002A))));
        Assert.Equal("5F03", Hex(AccessWriter.Write("Scheduler Action Status", ("Index", 3))));
    }

    // §8.3.6: NetKeyIndex 0x456 and AppKeyIndex 0x123 in three octets, then the key.
    [Fact]
    public void SpecVector_ConfigAppKeyAdd() => Assert.Equal("0056341263964771734FBD76E3B40519D1D94A48", Hex(AccessWriter.Write("Config AppKey Add",
        DecodedField.OfNumber("NetKeyIndex", 0x456), DecodedField.OfNumber("AppKeyIndex", 0x123),
        DecodedField.OfOctets("AppKey", Convert.FromHexString("63964771734FBD76E3B40519D1D94A48")))));

    [Fact]
    public void Lists() => Assert.Equal("802A000100001000C001C0", Hex(AccessWriter.Write("Config SIG Model Subscription List",
        DecodedField.OfNumber("Status", 0), DecodedField.OfNumber("ElementAddress", 1), DecodedField.OfNumber("ModelIdentifier", 0x1000),
        DecodedField.OfNumbers("Addresses", 0xC000, 0xC001))));

    [Theory]
    [InlineData("Generic OnOff Set", "OnOff=1", "TID is missing")]
    [InlineData("Generic OnOff Set", "TID=5 OnOff=1 Delay=1", "TransitionTime is missing")]
    [InlineData("Generic OnOff Set", "TID=5 OnOff=1 Level=1", "has no field Level")]
    [InlineData("Generic OnOff Set", "TID=256 OnOff=1", "TID has 8 bits")]
    [InlineData("Generic Level Set", "TID=1 Level=32768", "Level has 16 bits")]
    [InlineData("Generic Level Set", "TID=1 Level=-32769", "Level has 16 bits")]
    [InlineData("Config AppKey Add", "NetKeyIndex=1 AppKeyIndex=1 AppKey=1", "AppKey cannot be a Number")]
    [InlineData("Generic Something Set", "", "no access message is named 'Generic Something Set'")]
    public void AMistakeNamesTheField(string message, string fields, string says)
    {
        (string, long)[] values = [.. fields.Split(' ', StringSplitOptions.RemoveEmptyEntries)
            .Select(field => (field.Split('=')[0], long.Parse(field.Split('=')[1], CultureInfo.InvariantCulture)))];
        ArgumentException thrown = Assert.ThrowsAny<ArgumentException>(() => AccessWriter.Write(message, values));
        Assert.Contains(says, thrown.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void LengthsThatOtherFieldsTellMustFit()
    {
        ArgumentException list = Assert.ThrowsAny<ArgumentException>(() => AccessWriter.Write("FORWARDING_TABLE_DEPENDENTS_DELETE",
            DecodedField.OfNumber("NetKeyIndex", 0), DecodedField.OfNumber("Path_Origin", 1), DecodedField.OfNumber("Destination", 2),
            DecodedField.OfNumber("Dependent_Origin_List_Size", 1), DecodedField.OfNumber("Dependent_Target_List_Size", 0),
            DecodedField.OfNumbers("Dependent_Origin_List", 3, 4)));
        Assert.Contains("Dependent_Origin_List has 2 elements, where another field says 1", list.Message, StringComparison.Ordinal);

        ArgumentException octets = Assert.ThrowsAny<ArgumentException>(() => AccessWriter.Write("Sensor Status", DecodedField.OfList("Marshalled_Sensor_Data",
            [DecodedField.OfGroup("Marshalled_Sensor_Data", [DecodedField.OfNumber("Format", 0), DecodedField.OfNumber("Length", 1),
                DecodedField.OfNumber("PropertyID", 0x4F), DecodedField.OfNumber("RawValue", 43)])])));
        Assert.Contains("RawValue has 1 octets, where another field says 2", octets.Message, StringComparison.Ordinal);
    }

    private static string Hex(byte[] octets) => Convert.ToHexString(octets);
}
