using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Protocol.Tests.Access.Catalogue;

public class CatalogueTests
{
    [Fact]
    public void TheTablesAreWhole()
    {
        Assert.Equal(435, AccessCatalogue.All.Count);
        Assert.Equal(18, ControlCatalogue.All.Count);
        Assert.Equal(81, ModelCatalogue.All.Count);
        Assert.Equal(177, DeviceProperties.All.Count);
        Assert.Equal(79, StatusCodes.All.Count);
        Assert.Equal(52, HealthFaults.All.Count);
    }

    // Mesh Model 1.1: tables of models and their messages (from memory where the section is not in the table); TID: §3.3.
    [Theory]
    [InlineData("Generic OnOff Set", 0x8202u, 0x8204u, "1000", true)]
    [InlineData("Generic OnOff Set Unacknowledged", 0x8203u, null, "1000", true)]
    [InlineData("Generic OnOff Status", 0x8204u, null, "", false)]
    [InlineData("Generic OnPowerUp Set", 0x8213u, 0x8212u, "1007", false)]
    [InlineData("Sensor Get", 0x8231u, 0x52u, "1100", false)]
    [InlineData("Sensor Cadence Get", 0x8234u, 0x57u, "1101", false)]
    [InlineData("Scene Recall", 0x8242u, 0x5Eu, "1203", true)]
    [InlineData("Scene Store", 0x8246u, 0x8245u, "1204", false)]
    [InlineData("Light Lightness Default Set", 0x8259u, 0x8256u, "1301", false)]
    [InlineData("Light CTL Temperature Set", 0x8264u, 0x8266u, "1306", true)]
    [InlineData("Light HSL Hue Set", 0x826Fu, 0x8271u, "130A", true)]
    [InlineData("Light LC Property Set", 0x62u, 0x64u, "1310", false)]
    [InlineData("Config AppKey Add", 0x00u, 0x8003u, "0000", false)]
    [InlineData("Health Current Status", 0x04u, null, "", false)]
    [InlineData("Remote Provisioning Scan Report", 0x8055u, null, "", false)]
    [InlineData("BLOB Chunk Transfer", 0x66u, null, "1400", false)]
    public void ARowTellsWhoReceivesAndWhoAnswers(string name, uint opcode, uint? response, string models, bool tid)
    {
        MessageDefinition row = AccessCatalogue.Find(new Opcode(opcode))!;
        Assert.Equal(name, row.Name);
        Assert.Same(row, AccessCatalogue.Find(name));
        Assert.Equal(response, row.Response?.Value);
        Assert.Equal(response is not null, row.Acknowledged);
        Assert.Equal(models, string.Join(' ', row.ServerModels.Select(model => model.ToString("X4"))));
        Assert.Equal(tid, row.HasTid);
    }

    [Fact]
    public void StatusMessagesHaveNoServer() =>
        Assert.All(AccessCatalogue.All.Where(row => row.Name.EndsWith("tatus", StringComparison.Ordinal) || row.Name.EndsWith("_STATUS", StringComparison.Ordinal)),
            row => Assert.Empty(row.ServerModels));

    [Fact]
    public void EveryRequestWithAResponseHasAServer() =>
        Assert.All(AccessCatalogue.All.Where(row => row.Acknowledged), row => Assert.NotEmpty(row.ServerModels));

    [Theory]
    [InlineData("Config AppKey Add", true, false)]
    [InlineData("Generic OnOff Set", false, true)]
    [InlineData("OPCODES_AGGREGATOR_SEQUENCE", true, true)]
    public void ARowTellsItsKey(string name, bool device, bool application)
    {
        MessageDefinition row = AccessCatalogue.Find(name)!;
        Assert.Equal((device, application), (row.UsesDeviceKey, row.UsesApplicationKey));
    }

    [Fact]
    public void LookUps()
    {
        Assert.Equal(("Generic OnOff Server", true), (ModelCatalogue.Find(0x1000)!.Name, ModelCatalogue.Find(0x1000)!.IsServer));
        Assert.True(ModelCatalogue.Find(0x1001)!.IsClient);
        Assert.Null(ModelCatalogue.Find(0xFFFF));
        Assert.Equal(("Present Ambient Temperature", 1), (DeviceProperties.Find(0x004F)!.Name, DeviceProperties.Find(0x004F)!.Octets));
        Assert.Null(DeviceProperties.Find(0xFFFF));
        Assert.Equal("Invalid NetKey Index", StatusCodes.NameOf("Config", 4));
        Assert.Equal("Wrong Firmware Index", StatusCodes.NameOf("Firmware Update", 4));
        Assert.Null(StatusCodes.NameOf("Config", 0xFF));
        Assert.Equal("Overheat Error", HealthFaults.NameOf(0x0E));
        Assert.Equal("Vendor Specific", HealthFaults.NameOf(0xFF));
        Assert.Null(HealthFaults.NameOf(0x33));
        Assert.Null(AccessCatalogue.Find(new Opcode(0x80AA)));
        Assert.Null(AccessCatalogue.Find(Opcode.Vendor(1, 0)));
    }

    /// <summary>A property's layout fills the octets that its characteristic has.</summary>
    [Fact]
    public void PropertyLayoutsHaveTheirSize() =>
        Assert.All(DeviceProperties.All, property => Assert.Equal(property.Octets * 8, property.Layout.Fields.Sum(field => field.Bits)));
}
