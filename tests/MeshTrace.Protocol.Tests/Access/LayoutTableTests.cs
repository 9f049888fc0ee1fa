using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Access.Layouts;
using MeshTrace.Protocol.Access.Meanings;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>The tables hold together: every layout parses, every meaning is understood, every opcode and model that a row names exists.</summary>
public class LayoutTableTests
{
    [Fact]
    public void EveryLayoutParses()
    {
        foreach (MessageDefinition message in AccessCatalogue.All)
            Assert.NotNull(message.Layout);
        foreach (DevicePropertyDefinition property in DeviceProperties.All)
            Assert.NotNull(property.Layout);
        foreach (ControlDefinition message in ControlCatalogue.All)
            Assert.NotNull(message.Layout);
        foreach (string part in PartLayouts.Names)
            Assert.NotNull(PartLayouts.Get(part));
    }

    [Fact]
    public void EveryMeaningIsUnderstood()
    {
        foreach (string name in NamedMeanings.Names)
            Assert.NotNull(NamedMeanings.Find(name));
        foreach (((string scope, string field), string meaning) in FieldMeanings.All)
            Assert.True(Meaning.TryParse(meaning) is not null, $"{scope} {field}: {meaning}");
    }

    /// <summary>A row of field-meanings that no field uses is a misspelling.</summary>
    [Fact]
    public void EveryFieldMeaningIsOfAFieldThatExists()
    {
        var fields = new HashSet<(string Scope, string Field)>();
        foreach (MessageDefinition message in AccessCatalogue.All)
            Collect(message.Layout, message.Name, message.Group);
        foreach (ControlDefinition message in ControlCatalogue.All)
            Collect(message.Layout, message.Name, message.Group);
        foreach (string part in PartLayouts.Names)
            Collect(PartLayouts.Get(part), part, part);
        foreach ((string scope, string field) in FieldMeanings.All.Keys)
            Assert.True(fields.Contains((scope, field)), $"no field {field} in {scope}");

        void Collect(Layout layout, string message, string group)
        {
            foreach (LayoutField field in layout.Fields)
            {
                fields.UnionWith([(message, field.Name), (group, field.Name), ("*", field.Name)]);
                if (field.Inner is not null)
                    Collect(field.Inner, message, group);
            }
        }
    }

    [Fact]
    public void EveryResponseAndServerModelExists()
    {
        foreach (MessageDefinition message in AccessCatalogue.All)
        {
            if (message.Response is { } response)
                Assert.NotNull(AccessCatalogue.Find(response));
            foreach (ushort model in message.ServerModels)
                Assert.True(ModelCatalogue.Find(model) is { IsServer: true } found && found.Group == message.Group, $"{message} {model:X4}");
        }
    }
}
