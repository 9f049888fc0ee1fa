using System.Globalization;
using System.Text.Json;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Access;

/// <summary>Composition Data Pages 0 and 1 and Models Metadata Page 0 of Mesh Protocol 1.1 §8.10 and §8.14: from the sample's values to its octets, and back.</summary>
public class PageVectorTests
{
    [Fact]
    public void SpecVector_CompositionDataPage0()
    {
        Vector vector = VectorFile.SampleData["8.10.1"];
        JsonElement inputs = vector.Inputs;
        DecodedField page = Group("Data", N("CID", inputs.Hex("cid")), N("PID", inputs.Hex("pid")), N("VID", inputs.Hex("vid")), N("CRPL", inputs.Hex("crpl")),
            N("Features", inputs.Hex("features")), List("Elements", inputs, "elements", element => Group("Elements",
                N("Loc", element.Hex("location")), N("NumS", Count(element, "sig_models")), N("NumV", Count(element, "vendor_models")),
                List("SIGModelIDs", element, "sig_models", model => N("SIGModelIDs", Hex(model.GetString()!))),
                List("VendorModelIDs", element, "vendor_models", model => N("VendorModelIDs", VendorModel(model.GetString()!), 32)))));
        Check("Config Composition Data Status", vector, page, N("Page", 0));
        Check("LARGE_COMPOSITION_DATA_STATUS", vector, page, N("Page", 128), N("Offset", 0), N("Total_Size", vector.Out("page_data").Length));
    }

    [Fact]
    public void SpecVector_CompositionDataPage1()
    {
        Vector vector = VectorFile.SampleData["8.10.2"];
        DecodedField page = Group("Data", List("Elements", vector.Inputs, "elements", element => Group("Elements",
            N("Number_S", element.Number("number_s")), N("Number_V", element.Number("number_v")),
            List("Model_Items", element, "models", Model))));
        Check("Config Composition Data Status", vector, page, N("Page", 1));

        static DecodedField Model(JsonElement model)
        {
            List<DecodedField> fields =
            [
                N("Corresponding_Present", model.Number("corresponding_present")), N("Format", model.Number("format")),
                N("Extended_Items_Count", Count(model, "extended")),
            ];
            if (model.TryGetProperty("corresponding_group_id", out JsonElement group))
                fields.Add(N("Corresponding_Group_ID", group.GetInt32()));
            fields.Add(List("Extended_Model_Items", model, "extended", item => Group("Extended_Model_Items",
                DecodedField.OfSigned("Element_Offset", item.Number("element_offset")), N("Model_Item_Index", item.Number("model_item_index")))));
            return DecodedField.OfGroup("Model_Items", fields);
        }
    }

    [Fact]
    public void SpecVector_ModelsMetadataPage0()
    {
        Vector vector = VectorFile.SampleData["8.14"];
        DecodedField page = Group("Data", List("Elements", vector.Inputs, "elements", element => Group("Elements",
            N("Number_S", Count(element, "sig_models")), N("Number_V", Count(element, "vendor_models")),
            List("SIG_Models", element, "sig_models", model => Group("SIG_Models", [N("Model_ID", model.Hex("model_id")), .. Entries(model)])),
            List("Vendor_Models", element, "vendor_models",
                model => Group("Vendor_Models", [N("Model_ID", (model.Hex("company_id") << 16) | model.Hex("model_id"), 32), .. Entries(model)])))));
        Check("MODELS_METADATA_STATUS", vector, page, N("Metadata_Page", 0), N("Offset", 0), N("Total_Size", vector.Out("page_data").Length));

        static DecodedField[] Entries(JsonElement model) =>
        [
            N("Metadata_Entries_Number", Count(model, "metadata")),
            List("Metadata_Entries", model, "metadata", entry => Group("Metadata_Entries", N("Metadata_Length", entry.Octets("data").Length),
                N("Metadata_ID", entry.Hex("id")), DecodedField.OfOctets("Metadata", entry.Octets("data")))),
        ];
    }

    /// <summary>A caller who has the page's octets gives them as they are.</summary>
    [Fact]
    public void APageMayBeGivenAsOctets()
    {
        byte[] page = VectorFile.SampleData["8.10.1"].Out("page_data");
        byte[] payload = AccessWriter.Write("Config Composition Data Status", DecodedField.OfNumber("Page", 0), DecodedField.OfOctets("Data", page));
        Assert.Equal([0x02, 0x00, .. page], payload);
    }

    private static void Check(string message, Vector vector, DecodedField page, params DecodedField[] head)
    {
        byte[] payload = AccessWriter.Write(message, [.. head, page]);
        byte[] octets = vector.Out("page_data");
        Assert.Equal(Convert.ToHexString(octets), Convert.ToHexString(payload.AsSpan(payload.Length - octets.Length)));
        DecodedMessage read = AccessReader.Read(payload);
        Assert.False(read.Problem.IsProblem, read.Problem.ToString());
        Assert.Equal(FieldText.Of([.. head, page]), FieldText.Of(read.Fields));
    }

    private static DecodedField N(string name, long value, int bits = 0) => DecodedField.OfNumber(name, value, bits);

    private static DecodedField Group(string name, params DecodedField[] fields) => DecodedField.OfGroup(name, fields);

    private static DecodedField List(string name, JsonElement of, string member, Func<JsonElement, DecodedField> element) =>
        DecodedField.OfList(name, [.. of.GetProperty(member).EnumerateArray().Select(element)]);

    private static int Count(JsonElement element, string member) => element.GetProperty(member).GetArrayLength();

    private static long Hex(string text) => long.Parse(text, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture);

    private static long VendorModel(string text) => Hex(text.Replace(":", "", StringComparison.Ordinal));
}
