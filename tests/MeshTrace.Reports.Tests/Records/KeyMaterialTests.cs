using MeshTrace.Protocol.Access;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Tests.Records;

/// <summary>Opcodes: Mesh Protocol 1.1 §4.3.2 (Config) and §4.3.9 (Opcodes Aggregator). The key is invented.</summary>
public sealed class KeyMaterialTests
{
    private const string Key = "00112233445566778899aabbccddeeff";

    [Theory]
    [InlineData("00" + "001000" + Key, true)]               // Config AppKey Add
    [InlineData("01" + "001000" + Key, true)]               // Config AppKey Update
    [InlineData("8040" + "0000" + Key, true)]               // Config NetKey Add
    [InlineData("8045" + "0000" + Key, true)]               // Config NetKey Update
    [InlineData("00" + "001000" + "0011223344", true)]      // cut within the key
    [InlineData("00" + "001000" + Key + "ff", true)]        // too long
    [InlineData("8003" + "00" + "001000", false)]           // Config AppKey Status
    [InlineData("8072" + "0300" + "04" + "8008" + "00", true)]          // an aggregate that cannot be read whole
    [InlineData("8072" + "0300" + "06" + "800800", false)]              // Config Composition Data Get
    [InlineData("8072" + "0300" + "28" + "00001000" + Key, true)]       // Config AppKey Add within
    [InlineData("82020101", false)]                         // Generic OnOff Set
    public void MessagesThatMayHoldAKey_AreKnown(string payload, bool holdsKey) =>
        Assert.Equal(holdsKey, KeyMaterial.IsIn(AccessReader.Read(Convert.FromHexString(payload))));
}
